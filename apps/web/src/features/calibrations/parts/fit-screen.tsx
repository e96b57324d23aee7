import { useQuery } from '@apollo/client/react';
import { useParams } from 'react-router';
import { useInAddress } from '../../../ui/search.js';
import { Back, Page, Strip } from '../../../ui/page.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { CalibrationCandidates, CalibrationCrop } from '../documents.js';
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
  const crop = useQuery(CalibrationCrop, { variables: { id } });
  const cropId = crop.data?.calibration?.crop.id;
  const answer = useQuery(CalibrationCandidates, { variables: { id, cropId: cropId ?? '', filter: filterOf({ cultivar, stage, rigId, band, from, before }) }, skip: !cropId });
  const data = answer.data ?? answer.previousData;
  const back = <Back to={`/calibrations/${id}`}>Calibration</Back>;
  const failed = crop.error ?? answer.error;
  if (crop.data && !crop.data.calibration) return <Page title="Fit a version" margin={back}><Strip><Empty title="No calibration of this lab has this address." /></Strip></Page>;
  if (!data?.calibration) return <Page title="Fit a version" margin={back}><Strip>{failed ? <Failed what="the runs" again={() => void (cropId ? answer.refetch() : crop.refetch())} /> : <Waiting what="the released runs" />}</Strip></Page>;
  const { calibration, calibrationCandidates, candidateChoices } = data;
  const narrowed = Boolean(cultivar || stage || rigId || band || from || before);
  return (
    <Page title={`Fit ${calibration.label}`} margin={back} lead={`Released runs of ${calibration.crop.name}, on one rig. The fit is computed on the server and frozen as a new version.`}>
      {candidateChoices.rigs.length > 0 ? <Strip><CandidateFilterBar choices={candidateChoices} /></Strip> : null}
      {calibrationCandidates.length === 0 ? (
        <Strip>{narrowed
          ? <Empty title="No released run is like that."><p>Widen what the runs are narrowed by.</p></Empty>
          : <Empty title={`No released run of ${calibration.crop.name} has readings yet.`}><p>Dry discs on the Bench with readings between the weighings, then have the run released.</p><ActionLink to="/bench">Go to the Bench</ActionLink></Empty>}
        </Strip>
      ) : <BuilderPart key={narrowed ? `${cultivar} ${stage} ${rigId} ${band} ${from} ${before}` : 'all'} calibrationId={id} cropId={calibration.crop.id} candidates={calibrationCandidates} cultivar={cultivar} stage={stage} />}
    </Page>
  );
}
