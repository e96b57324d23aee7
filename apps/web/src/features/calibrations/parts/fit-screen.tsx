import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useMemo, useState } from 'react';
import { useNavigate, useParams } from 'react-router';
import type { CalibrationCandidatesQuery, CalibrationFamily } from '../../../generated/graphql.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { SegmentField, TicksField } from '../../../ui/fields.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import type { ProblemSeen } from '../../../ui/send.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { CalibrationCandidates, CalibrationCrop, FitCalibration } from '../documents.js';
import { ExclusionList } from './exclusion-list.js';
import type { ReadingRow } from './exclusion-list.js';
import { families } from './families.js';
import styles from './calibrations.module.css';

type Candidates = CalibrationCandidatesQuery['calibrationCandidates'];

const CalibrationPlot = lazy(async () => ({ default: (await import('../../../plots/calibration-plot.js')).CalibrationPlot }));

/** Builds a new version: which released runs, which points stay out and why, which family. */
export function FitScreen() {
  const { id = '' } = useParams();
  const crop = useQuery(CalibrationCrop, { variables: { id } });
  const cropId = crop.data?.calibration?.crop.id;
  const { data, error, refetch } = useQuery(CalibrationCandidates, { variables: { id, cropId: cropId ?? '' }, skip: !cropId });
  const back = <Back to={`/calibrations/${id}`}>Calibration</Back>;
  const failed = crop.error ?? error;
  if (crop.data && !crop.data.calibration) return <Page title="Fit a version" margin={back}><Strip><Empty title="No calibration of this lab has this address." /></Strip></Page>;
  if (!data?.calibration) return <Page title="Fit a version" margin={back}><Strip>{failed ? <Failed what="the runs" again={() => void (cropId ? refetch() : crop.refetch())} /> : <Waiting what="the released runs" />}</Strip></Page>;
  const { calibration, calibrationCandidates } = data;
  return (
    <Page title={`Fit ${calibration.label}`} margin={back} lead={`Released runs of ${calibration.crop.name}, on one rig. The fit is computed on the server and frozen as a new version.`}>
      {calibrationCandidates.length === 0
        ? <Strip><Empty title={`No released run of ${calibration.crop.name} has readings yet.`}><p>Dry discs on the Bench with readings between the weighings, then have the run released.</p><ActionLink to="/bench">Go to the Bench</ActionLink></Empty></Strip>
        : <FitEntry calibrationId={id} cropId={calibration.crop.id} candidates={calibrationCandidates} />}
    </Page>
  );
}

interface FitEntryProps {
  readonly calibrationId: string;
  readonly cropId: string;
  readonly candidates: Candidates;
}

const readingsOf = (candidates: Candidates, runIds: readonly string[], cropId: string): readonly ReadingRow[] =>
  candidates.filter(({ id }) => runIds.includes(id)).flatMap(({ rwcSeries }) => rwcSeries
    .filter(({ disc }) => disc.leaf.plant.crop.id === cropId)
    .flatMap(({ disc, readings }) => readings.map((reading) => ({ ...reading, leaf: disc.leaf.label, disc: disc.label }))));

interface Exclusion {
  readonly meterReadingId: string;
  readonly reason: string;
}

/** The readings left out of those in view: a reason given for a run that was unticked since is kept, but not sent. */
const exclusionsAmong = (rows: readonly ReadingRow[], reasons: Readonly<Record<string, string>>): readonly Exclusion[] =>
  rows.flatMap(({ meterReadingId }) => (reasons[meterReadingId] === undefined ? [] : [{ meterReadingId, reason: reasons[meterReadingId].trim() }]));

/** "exclusions.3.reason" is the problem of the fourth point left out. */
const rowOf = (problem: ProblemSeen | null): number => Number(/exclusions\.(\d+)/.exec(problem?.field ?? '')?.[1] ?? -1);

function FitEntry({ calibrationId, cropId, candidates }: FitEntryProps) {
  const send = usePayload();
  const navigate = useNavigate();
  const [reasons, setReasons] = useState<Readonly<Record<string, string>>>({});
  const [initial] = useState({ family: 'LOG_LINEAR', dryingRunIds: candidates.length === 1 ? [candidates[0]!.id] : ([] as readonly string[]) });
  const entry = useEntry({
    initial,
    keep: true,
    send: ({ family, dryingRunIds }, id) => send(FitCalibration, { input: { id, calibrationId, family: family as CalibrationFamily, dryingRunIds: [...dryingRunIds], exclusions: [...exclusionsAmong(readingsOf(candidates, dryingRunIds, cropId), reasons)] } }),
    onRecorded: ({ calibrationVersion }) => void (calibrationVersion && navigate(`/calibrations/version/${calibrationVersion.id}`)),
  });
  const { dryingRunIds } = entry.values;
  const rows = useMemo(() => readingsOf(candidates, dryingRunIds, cropId), [candidates, dryingRunIds, cropId]);
  const points = useMemo(() => rows.map((row) => ({ ...row, used: !(row.meterReadingId in reasons) })), [rows, reasons]);
  const exclusions = exclusionsAmong(rows, reasons);
  const unreasoned = exclusions.some(({ reason }) => reason === '');
  const leaves = new Set(rows.map(({ leaf }) => leaf)).size;
  const wrong = rowOf(entry.problem);
  return (
    <Section title="Runs, family, points" lead={rows.length > 0 ? `${points.filter(({ used }) => used).length} readings of ${leaves} ${leaves === 1 ? 'leaf' : 'leaves'} go into the fit. More leaves help more than more readings of the same leaf.` : 'Choose the runs first.'}>
      <EntryForm entry={entry} action="Fit and freeze as a new version" label="Fit a version" disabled={rows.length === 0 || unreasoned} beside={unreasoned ? <span>Give a reason for each reading left out.</span> : null}>
        <TicksField {...entry.field('dryingRunIds')} label="Released runs" empty={null}
          choices={candidates.map(({ id, label, rig, rwcSeries, openedAt }) => ({ value: id, label: `Run ${label}`, beside: `${openedAt.slice(0, 10)}, ${rwcSeries.length} discs, ${rig.label} version ${rig.version}${rwcSeries.some(({ stale }) => stale) ? ', RWC stale' : ''}` }))} />
        <SegmentField {...entry.field('family')} label="Family" wide choices={Object.entries(families).map(([value, { word, formula }]) => ({ value, label: `${word}: ${formula}` }))} />
        {rows.length > 0 ? (
        <div className={styles.whole}>
          <Suspense fallback={<Waiting what="the drawing" />}><CalibrationPlot label="Readings of the chosen runs, transmittance against RWC" points={points} /></Suspense>
          <ExclusionList rows={rows} reasons={reasons} onChange={setReasons} problemAt={exclusions[wrong]?.meterReadingId ?? null} problem={entry.problem} />
        </div>
        ) : null}
      </EntryForm>
    </Section>
  );
}
