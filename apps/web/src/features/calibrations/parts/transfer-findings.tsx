import { lazy, Suspense, useMemo, useState } from 'react';
import { Link, useNavigate } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { Facts, Section } from '../../../ui/page.js';
import { recordPath } from '../../../ui/paths.js';
import { rwcInterval } from '../../../ui/quantity.js';
import { usePayload } from '../../../ui/send.js';
import { Table } from '../../../ui/table.js';
import { Waiting } from '../../../ui/words.js';
import { StudyTransfer } from '../transfer-documents.js';
import { pText } from './builder.js';
import styles from './calibrations.module.css';
import { ExclusionList } from './exclusion-list.js';
import type { TransferStudySeen } from './seen.js';

const TransferPlot = lazy(async () => ({ default: (await import('../../../plots/transfer-plots.js')).TransferPlot }));
const OffPlot = lazy(async () => ({ default: (await import('../../../plots/transfer-plots.js')).OffPlot }));

type Readings = NonNullable<TransferStudySeen['readings']>;
type Leaf = Readings['leaves'][number];

const signed = (value: number, places = 1): string => `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(places)}`;
const percentText = (share: number): string => `${Math.round(100 * share)} %`;

const effects: Readonly<Record<string, string>> = { HEIGHT: 'in height', HEIGHT_AND_SLOPE: 'in height and slope' };

interface FindingsProps {
  readonly study: TransferStudySeen;
  readonly readings: Readings;
}

/** Own leaves on the given curve, and every figure behind the verdict. */
export function ReadingsFindings({ study, readings }: FindingsProps) {
  const { comparison, marginPoints, level } = readings;
  const points = useMemo(() => readings.points.map(({ leaf, ...point }) => ({ ...point, leaf: leaf.label })), [readings.points]);
  return (
    <>
      <Section title="Own leaves on the given curve" lead={`${readings.readingCount} readings of ${readings.leafCount} ${readings.leafCount === 1 ? 'leaf' : 'leaves'} that it has not seen, RWC ${rwcInterval(readings.rwcFrom, readings.rwcTo)}.`}>
        <Suspense fallback={<Waiting what="the drawing" />}><TransferPlot label="Own leaves on the given calibration, transmittance against RWC" points={points} curve={readings.curve} marginPoints={marginPoints} level={level} /></Suspense>
        <Facts rows={[
          { name: 'It reads own leaves off by, on average', value: `${signed(readings.biasPoints)} RWC points${readings.biasLow == null ? '' : ` (${percentText(level)}: ${signed(readings.biasLow)} to ${signed(readings.biasHigh ?? 0)})`}` },
          { name: 'Single readings off by, root mean square', value: `${readings.rmsPoints.toFixed(1)} RWC points` },
          { name: 'Leaves where it promised a new leaf', value: `${readings.insideLeaves} of ${readings.leafCount}; it promised ${percentText(level)}. These leaves allow ${percentText(readings.insideShareLow)} to ${percentText(readings.insideShareHigh)}${readings.insidePValue < 0.05 ? `: fewer than chance explains (p ${pText(readings.insidePValue)})` : ''}` },
        ]} />
      </Section>
      {comparison ? (
        <Section title="How far off, along RWC" lead={`Margin ± ${marginPoints} RWC points, stated before the answer was seen. Not significant is not the same as equal: what counts is whether the band lies inside the margin.`}>
          <Suspense fallback={<Waiting what="the drawing" />}><OffPlot label="What the given calibration reads too much or too little, along RWC" off={comparison.off} marginPoints={marginPoints} /></Suspense>
          <Facts rows={[
            { name: 'Off in the middle of the range', value: `${signed(comparison.offsetPoints)} ± ${comparison.offsetStandardErrorPoints.toFixed(1)} RWC points (standard uncertainty)` },
            { name: 'At worst, anywhere in the range', value: `${comparison.worstPoints.toFixed(1)} RWC points not excluded; ${comparison.worstAfterOffsetPoints.toFixed(1)} once the offset is off` },
            { name: 'Slope of own leaves', value: `${comparison.ownSlope.toFixed(3).replace('-', '−')}, ${comparison.slopeRatio.toFixed(2)} times the given one (${comparison.slopeRatioLow.toFixed(2)} to ${comparison.slopeRatioHigh.toFixed(2)})` },
            { name: 'One mean line for both', value: `p ${pText(comparison.commonLinePValue)}: ${comparison.commonLinePValue < 0.05 ? 'a difference is shown, whether or not it matters' : 'no difference is shown, which does not say that there is none'}` },
            { name: 'Own leaves differ', value: effects[readings.leafEffects] ?? '' },
          ]} />
        </Section>
      ) : null}
      <Section title="Leaf by leaf">
        <Table caption="Own leaves, read by the given calibration" rows={readings.leaves} keyOf={({ leaf }) => leaf.id} columns={[
          { head: 'Leaf', cell: ({ leaf }: Leaf) => <Link to={recordPath('leaf', leaf.id)}>{leaf.label}</Link> },
          { head: 'Readings', number: true, cell: ({ readings: count }: Leaf) => count },
          { head: 'Read less true, RWC points', number: true, cell: ({ biasPoints }: Leaf) => signed(biasPoints) },
          { head: 'Promised within', number: true, cell: ({ promisedHalfWidthPoints }: Leaf) => `± ${promisedHalfWidthPoints.toFixed(1)}` },
          { head: 'Kept', cell: ({ inside }: Leaf) => (inside ? 'yes' : 'no, outside') },
        ]} />
      </Section>
      <StudyAgain study={study} readings={readings} points={points} />
    </>
  );
}

/** The same question with readings left out: another study, so that both stay. */
function StudyAgain({ study, readings, points }: FindingsProps & { readonly points: readonly (Omit<Readings['points'][number], 'leaf'> & { readonly leaf: string })[] }) {
  const mayStudy = useHasRole('RESEARCHER', 'MANAGER');
  const send = usePayload();
  const navigate = useNavigate();
  const before = useMemo(() => Object.fromEntries(points.filter(({ used }) => !used).map(({ meterReadingId, exclusionReason }) => [meterReadingId, exclusionReason ?? ''])), [points]);
  const [reasons, setReasons] = useState<Readonly<Record<string, string>>>(before);
  const leafIds = [...new Set(readings.points.map(({ leaf }) => leaf.id))];
  const entry = useEntry({
    initial: {}, keep: true,
    send: (_, id) => send(StudyTransfer, {
      input: {
        id, calibrationVersionId: study.given.id, cropId: study.crop.id, dryingRunIds: readings.dryingRunIds, leafIds, exclusions: Object.entries(reasons).map(([meterReadingId, reason]) => ({ meterReadingId, reason })),
        marginPoints: readings.marginPoints, rwcFrom: readings.rwcFrom, rwcTo: readings.rwcTo, leafEffects: readings.leafEffects, alpha: readings.alpha, level: readings.level,
      },
    }),
    onRecorded: ({ transferStudy }) => void (transferStudy && navigate(`/calibrations/transfer/${transferStudy.id}`)),
  });
  if (!mayStudy) return null;
  const unreasoned = Object.values(reasons).some((reason) => reason.trim() === '');
  const changed = JSON.stringify(reasons) !== JSON.stringify(before);
  return (
    <Section title="Readings" lead="With readings left out it is another study, with the same margin. This one stays.">
      <EntryForm entry={entry} action="Study again without them" label="Study again" disabled={!changed || unreasoned}>
        <div className={styles.whole}><ExclusionList points={points.map((point) => ({ ...point, beside: '' }))} reasons={reasons} onChange={setReasons} problemAt={null} problem={entry.problem} told="both studies are kept." /></div>
      </EntryForm>
    </Section>
  );
}
