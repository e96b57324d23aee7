import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useDeferredValue, useMemo, useState } from 'react';
import { useNavigate } from 'react-router';
import type { CalibrationFamily, CalibrationStudyInput, LeafEffects } from '../../../generated/graphql.js';
import { decimalText, EntryForm, useEntry } from '../../../ui/entry.js';
import { ChoiceField, NumberField, SegmentField, TicksField } from '../../../ui/fields.js';
import { Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import type { ProblemSeen } from '../../../ui/send.js';
import { Flags, Notice, Waiting } from '../../../ui/words.js';
import { CalibrationStudy, FitCalibration } from '../documents.js';
import { AdvicePart } from './advice.js';
import { readBackAt } from './builder.js';
import type { Candidates, Study } from './builder.js';
import styles from './calibrations.module.css';
import { ComparisonPart } from './comparison.js';
import { ExclusionList, type ReadingShown } from './exclusion-list.js';
import { effectsOffered, families } from './families.js';
import { ReadBackSlider } from './read-back-slider.js';
import { ResidualPart } from './residual-part.js';
import { StudyFiguresPart } from './study-figures.js';

const StudyPlot = lazy(async () => ({ default: (await import('../../../plots/study-plots.js')).StudyPlot }));
const LeafEffectPlot = lazy(async () => ({ default: (await import('../../../plots/study-plots.js')).LeafEffectPlot }));

interface BuilderPartProps {
  readonly calibrationId: string;
  readonly cropId: string;
  readonly candidates: Candidates;
  /** Empty: all. */
  readonly cultivar: string;
  readonly stage: string;
  /** The version whose readings it begins with, in a refit. */
  readonly parent: { readonly id: string } | null;
}

const shares = ['90', '95', '99'].map((value) => ({ value, label: `${value} %` }));

/** Leaves of the chosen runs that the cultivar and stage let in; null where neither narrows. */
function leavesLetIn({ candidates, cropId, cultivar, stage }: BuilderPartProps, runIds: readonly string[]): string[] | null {
  if (!cultivar && !stage) return null;
  const leaves = candidates.filter(({ id }) => runIds.includes(id)).flatMap(({ rwcSeries }) => rwcSeries.map(({ disc }) => disc.leaf));
  return [...new Set(leaves.filter(({ plant, growthStage }) => plant.crop.id === cropId && (!cultivar || plant.cultivar === cultivar) && (!stage || growthStage === stage)).map(({ id }) => id))];
}

const exclusionsOf = (reasons: Readonly<Record<string, string>>): { meterReadingId: string; reason: string }[] =>
  Object.entries(reasons).map(([meterReadingId, reason]) => ({ meterReadingId, reason: reason.trim() }));

/** "exclusions.3.reason" is the problem of the fourth point left out. */
const rowOf = (problem: ProblemSeen | null): number => Number(/exclusions\.(\d+)/.exec(problem?.field ?? '')?.[1] ?? -1);

/** A number typed, or null while it is none. */
const typed = (text: string, low: number, high: number): number | null => {
  const value = Number(decimalText(text));
  return text.trim() !== '' && value > low && value < high ? value : null;
};

/** What was chosen, where the family offers it. */
const offeredOf = (family: string, chosen: string): LeafEffects => effectsOffered(family as CalibrationFamily).choices.find(({ value }) => value === chosen)?.value ?? 'AUTO';

export function BuilderPart(props: BuilderPartProps) {
  const { calibrationId, candidates, parent } = props;
  const refitOf = parent?.id ?? null;
  const send = usePayload();
  const navigate = useNavigate();
  const [reasons, setReasons] = useState<Readonly<Record<string, string>>>({});
  const [initial] = useState({
    family: 'LOG_LINEAR', leafEffects: 'AUTO', dryingRunIds: candidates.length === 1 && !parent ? [candidates[0]!.id] : ([] as readonly string[]), atRwc: '', share: '95', confidence: '95', wanted: '',
  });
  const entry = useEntry({
    initial, keep: true,
    send: ({ family, leafEffects, dryingRunIds }, id) => send(FitCalibration, { input: { id, calibrationId, family: family as CalibrationFamily, leafEffects: offeredOf(family, leafEffects), dryingRunIds: [...dryingRunIds], leafIds: leavesLetIn(props, dryingRunIds), exclusions: exclusionsOf(reasons), refitOf } }),
    onRecorded: ({ calibrationVersion }) => void (calibrationVersion && navigate(`/calibrations/version/${calibrationVersion.id}`)),
  });
  const { family, dryingRunIds, atRwc, share, confidence, wanted } = entry.values;
  const leafEffects = offeredOf(family, entry.values.leafEffects);
  const offered = effectsOffered(family as CalibrationFamily);
  const input = useMemo((): CalibrationStudyInput => ({
    calibrationId, family: family as CalibrationFamily, leafEffects, dryingRunIds: [...dryingRunIds], leafIds: leavesLetIn(props, dryingRunIds),
    // Which readings are out is studied at once; why is asked for when the version is frozen.
    exclusions: Object.keys(reasons).map((meterReadingId) => ({ meterReadingId, reason: '' })),
    atRwc: ((percent) => (percent === null ? null : percent / 100))(typed(atRwc, 1, 110)), refitOf, share: Number(share) / 100, confidence: Number(confidence) / 100, wantedHalfWidthPoints: typed(wanted, 0, 100),
  }), [calibrationId, family, leafEffects, dryingRunIds, Object.keys(reasons).join(), atRwc, share, confidence, wanted]);
  const asked = useDeferredValue(input);
  const chosen = dryingRunIds.length > 0 || refitOf !== null;
  const { data, previousData, loading } = useQuery(CalibrationStudy, { variables: { input: asked }, skip: !chosen, fetchPolicy: 'cache-and-network' });
  const answer = (data ?? previousData)?.calibrationStudy;
  const study = chosen ? answer?.study : null;
  const unreasoned = Object.values(reasons).some((reason) => reason.trim() === '');
  const wrong = rowOf(entry.problem);
  return (
    <>
      <Section title="Runs, family, points" lead={study ? `${study.figures.readings} readings of ${study.figures.leaves} ${study.figures.leaves === 1 ? 'leaf' : 'leaves'} go into the fit. More leaves help more than more readings of the same leaf.` : chosen ? null : 'Choose the runs first.'}>
        <EntryForm entry={entry} action="Fit and freeze as a new version" label="Fit a version" disabled={!chosen || unreasoned} beside={unreasoned ? <span>Give a reason for each reading left out.</span> : null}>
          <TicksField {...entry.field('dryingRunIds')} label={parent ? 'Own runs to add' : 'Released runs'} empty={<p>No released run of this crop yet: the readings of the version alone go into the fit.</p>}
            choices={candidates.map(({ id, label, rig, rwcSeries, openedAt }) => ({ value: id, label: `Run ${label}`, beside: `${openedAt.slice(0, 10)}, ${rwcSeries.length} discs, ${rig.label} version ${rig.version}${rwcSeries.some(({ stale }) => stale) ? ', RWC stale' : ''}` }))} />
          <SegmentField {...entry.field('family')} label="Family" wide choices={Object.entries(families).map(([value, { word, formula }]) => ({ value, label: `${word}: ${formula}` }))} />
          <SegmentField {...entry.field('leafEffects')} value={leafEffects} label="Leaves differ in" wide choices={offered.choices} hint={offered.hint} />
          <NumberField {...entry.field('atRwc')} label="Tell figures at RWC, %" hint="The trip target; empty: the middle of the readings" optional />
          <ChoiceField {...entry.field('share')} label="Tolerance: share of leaves" choices={shares} />
          <ChoiceField {...entry.field('confidence')} label="… with confidence" choices={shares} />
          {study ? <div className={styles.whole}><ExclusionList points={study.points.map(shown)} reasons={reasons} onChange={setReasons} problemAt={exclusionsOf(reasons)[wrong]?.meterReadingId ?? null} problem={entry.problem} /></div> : null}
        </EntryForm>
      </Section>
      {answer?.problem && !loading ? <Section title="What it says"><Notice tone={answer.problem.field === 'family' ? 'ask' : 'alarm'} title={answer.problem.message}>{answer.problem.remedy}</Notice></Section> : null}
      {chosen && !answer ? <Section title="What it says"><Waiting what="the fit" /></Section> : null}
      {study ? <StudyParts study={study} share={share} confidence={confidence} busy={loading} /> : null}
      {study ? (
        <Section title="What would make it better" lead="Half-widths for one new leaf to expect after measuring more in the same way.">
          <div className={styles.narrow}><NumberField {...entry.field('wanted')} label="Wanted half-width, RWC points" hint="For a plan that reaches it" optional /></div>
          <AdvicePart advice={study.advice} />
        </Section>
      ) : null}
      {chosen ? (
        <Section title="Other ways of fitting" lead="Every family and every way in which leaves may differ, each fitted anew with each leaf left out. With many leaves this takes minutes; it can be called off.">
          <ComparisonPart input={input} disabled={!chosen} />
        </Section>
      ) : null}
    </>
  );
}

const shown = ({ flags, operator, ...point }: Study['points'][number]): ReadingShown => ({ ...point, beside: `, ${operator}${flags.length > 0 ? `: ${flags.join(', ').replaceAll('-', ' ')}` : ''}` });

interface StudyPartsProps {
  readonly study: Study;
  readonly share: string;
  readonly confidence: string;
  readonly busy: boolean;
}

/** What one fit shows: finding, bands, RWC read back, leaf effects, residuals. */
function StudyParts({ study, share, confidence, busy }: StudyPartsProps) {
  const [transmittance, setTransmittance] = useState<number | null>(null);
  const read = useMemo(() => readBackAt(study.readBack, transmittance ?? study.readBack[Math.floor(study.readBack.length / 2)]!.transmittance), [study.readBack, transmittance]);
  return (
    <>
      <Section title="How far it holds" lead="Draw along the picture, or move the slider, to read RWC at a transmittance.">
        <div aria-busy={busy}>
          <Suspense fallback={<Waiting what="the drawing" />}><StudyPlot label="Readings, mean line and the three intervals, transmittance against RWC" points={study.points} curve={study.curve} readBack={read} onTransmittance={setTransmittance} /></Suspense>
        </div>
        <ReadBackSlider study={study} read={read} share={share} confidence={confidence} onChange={setTransmittance} />
        <StudyFiguresPart study={study} />
        <Flags flags={study.remarks} />
      </Section>
      <Section title="How leaves differ" lead="Each leaf against the mean line, at the RWC that figures are told at.">
        <Suspense fallback={<Waiting what="the drawing" />}><LeafEffectPlot label="What each leaf differs by, RWC points" rows={study.leaves} /></Suspense>
      </Section>
      <Section title="What is left over"><ResidualPart study={study} /></Section>
    </>
  );
}
