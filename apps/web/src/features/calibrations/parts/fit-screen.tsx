import { useQuery } from '@apollo/client/react';
import { useParams } from 'react-router';
import { useInAddress } from '../../../ui/search.js';
import { Back, Page, Strip } from '../../../ui/page.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { CalibrationCandidates, CalibrationCrop, RefitParent } from '../documents.js';
import { BuilderPart } from './builder-part.js';
import { CandidateFilterBar, filterOf } from './candidate-filter.js';

/** Builds a new version: which released runs, which points stay out and why, which family and leaf effects; seen before it is frozen. */
export function FitScreen() {
  const { id = '' } = useParams();
  const [cultivar] = useInAddress('cultivar');
  const [stage] = useInAddress('stage');
  const [rigId] = useInAddress('rig');
  const [band] = useInAddress('band');
  const [from] = useInAddress('from');
  const [before] = useInAddress('before');
  const [refit] = useInAddress('refit');
  const refitted = useQuery(RefitParent, { variables: { id: refit }, skip: !refit });
  const crop = useQuery(CalibrationCrop, { variables: { id } });
  const cropId = crop.data?.calibration?.crop.id;
  const answer = useQuery(CalibrationCandidates, { variables: { id, cropId: cropId ?? '', filter: filterOf({ cultivar, stage, rigId, band, from, before }) }, skip: !cropId });
  const data = answer.data ?? answer.previousData;
  const back = <Back to={`/calibrations/${id}`}>Calibration</Back>;
  const failed = crop.error ?? answer.error ?? refitted.error;
  if (crop.data && !crop.data.calibration) return <Page title="Fit a version" margin={back}><Strip><Empty title="No calibration of this lab has this address." /></Strip></Page>;
  if (!data?.calibration || (refit && !refitted.data)) return <Page title="Fit a version" margin={back}><Strip>{failed ? <Failed what="the runs" again={() => void (cropId ? answer.refetch() : crop.refetch())} /> : <Waiting what="the released runs" />}</Strip></Page>;
  const { calibration, calibrationCandidates, candidateChoices } = data;
  const parent = refitted.data?.calibrationVersion ?? null;
  if (refit && !parent) return <Page title="Refit a version" margin={back}><Strip><Empty title="The version to be refitted is none of this lab." /></Strip></Page>;
  const narrowed = Boolean(cultivar || stage || rigId || band || from || before);
  return (
    <Page title={parent ? `Refit ${parent.calibration.label}, version ${parent.version}` : `Fit ${calibration.label}`} margin={back}
      lead={parent
        ? `It begins with the ${parent.leafCount} leaves of that version${parent.credits.length > 0 ? `, measured by ${[...new Set(parent.credits.map(({ labName }) => labName))].join(' and ')}` : ''}. Add released runs of ${calibration.crop.name} from the rig it stands for, or leave readings out; what you freeze is a draft of your own, with that version as its parent and its terms kept.`
        : `Released runs of ${calibration.crop.name}, on one rig. The fit is computed on the server and frozen as a new version.`}>
      {candidateChoices.rigs.length > 0 ? <Strip><CandidateFilterBar choices={candidateChoices} /></Strip> : null}
      {calibrationCandidates.length === 0 && !parent ? (
        <Strip>{narrowed
          ? <Empty title="No released run is like that."><p>Widen what the runs are narrowed by.</p></Empty>
          : <Empty title={`No released run of ${calibration.crop.name} has readings yet.`}><p>Dry discs on the Bench with readings between the weighings, then have the run released.</p><ActionLink to="/bench">Go to the Bench</ActionLink></Empty>}
        </Strip>
      ) : <BuilderPart key={narrowed ? `${cultivar} ${stage} ${rigId} ${band} ${from} ${before}` : 'all'} calibrationId={id} cropId={calibration.crop.id} candidates={calibrationCandidates} cultivar={cultivar} stage={stage} parent={parent} />}
    </Page>
  );
}
