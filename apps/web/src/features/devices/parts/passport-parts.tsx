import { useQuery } from '@apollo/client/react';
import { formatNumber, formatPercentPlain } from '#libs/quantity';
import type { DeviceUnitPageQuery, UnitPassportQuery } from '../../../generated/graphql.js';
import { useLive } from '../../../ui/live.js';
import { Facts, Section } from '../../../ui/page.js';
import { Uncertain } from '../../../ui/quantity.js';
import { AmendedMark, DoneMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { UnitPassport } from '../documents.js';
import { AbsorptionBands } from './absorption-bands.js';
import { ChoppedEntry, CycleEntry, ResetEntry, TemperatureEntry } from './record-passport.js';

type Passport = NonNullable<UnitPassportQuery['deviceUnit']>;
type Unit = NonNullable<DeviceUnitPageQuery['deviceUnit']>;
interface Fact { readonly recordedBy: { readonly displayName: string }; readonly amendedBy?: { readonly reason: string } | null; readonly observedAt: string }

const by = { head: 'By', cell: ({ recordedBy, amendedBy }: Fact) => <>{recordedBy.displayName}{amendedBy ? <><br /><AmendedMark /> {amendedBy.reason}</> : null}</> } as const;
const when = { head: 'When', cell: ({ observedAt }: Fact) => <Moment at={observedAt} /> } as const;
const struck = ({ amendedBy }: Fact): boolean => amendedBy != null;
const keyOf = ({ id }: { readonly id: string }): string => id;

const choppedColumns = [
  { head: 'Bias', number: true, cell: ({ biasV }: Passport['choppedRuns'][number]) => `${biasV} V` },
  { head: 'Openings', number: true, cell: ({ openings, missed, chopHz }: Passport['choppedRuns'][number]) => `${openings} at ${chopHz} Hz${missed > 0 ? `, ${missed} without a trip` : ''}` },
  { head: 'Mean, nW', number: true, cell: ({ meanNw }: Passport['choppedRuns'][number]) => (meanNw == null ? 'none' : formatNumber(meanNw, 1)) },
  { head: 'Spread, 1 SD', number: true, cell: ({ relativeSd }: Passport['choppedRuns'][number]) => (relativeSd == null ? 'not known' : formatPercentPlain(relativeSd, 1)) },
  when, by,
] as const;

const temperatureColumns = [
  { head: 'Bias', number: true, cell: ({ biasV }: Passport['temperatureRuns'][number]) => `${biasV} V` },
  { head: 'Temperatures', cell: ({ steps }: Passport['temperatureRuns'][number]) => `${steps.length} steps, ${Math.min(...steps.map(([t]) => t ?? 0))} °C to ${Math.max(...steps.map(([t]) => t ?? 0))} °C` },
  { head: 'Trip power moves a kelvin by', number: true, cell: ({ relativePerK, uRelativePerK }: Passport['temperatureRuns'][number]) => <Uncertain value={100 * relativePerK} u={100 * uRelativePerK} unit="%" /> },
  when, by,
] as const;

const resetColumns = [
  { head: 'Pulse', cell: ({ pulseV, pulseMs }: Passport['resetPulses'][number]) => `${pulseV} V for ${pulseMs} ms` },
  { head: 'Contact', cell: ({ succeeded }: Passport['resetPulses'][number]) => <DoneMark done={succeeded} word={succeeded ? 'released' : 'did not release'} /> },
  when, by,
] as const;

const cycleColumns = [
  { head: 'So far', number: true, cell: ({ cycles }: Passport['cycleCounts'][number]) => `${cycles} ${Number(cycles) === 1 ? 'cycle' : 'cycles'}` },
  { head: 'Switched', cell: ({ switching }: Passport['cycleCounts'][number]) => (switching === 'HOT' ? 'hot, under current' : 'cold, without current') },
  { head: 'Pull-in, V', number: true, cell: ({ pullInV }: Passport['cycleCounts'][number]) => pullInV ?? '' },
  { head: 'Contact, Ω', number: true, cell: ({ contactResistanceOhm }: Passport['cycleCounts'][number]) => contactResistanceOhm ?? '' },
  when, by,
] as const;

const verdicts = { WITHIN: 'within its limit', BEYOND: 'beyond its limit', UNDECIDED: 'not decided yet: measure after more cycles' } as const;

/** Pull-in by polarity, hysteresis, charge: what the sweeps say together. */
export function SweepsTogether({ summary }: { readonly summary: NonNullable<Unit['sweepSummary']> }) {
  const { pullIn, hysteresisV, polarityDifferenceV, uPolarityDifferenceV } = summary;
  return (
    <Facts rows={[
      ...pullIn.map(({ polarity, meanV, uMeanV, sweeps, trendVPerSweep }) => ({
        name: `Pull-in, ${polarity.toLowerCase()}`,
        value: <><Uncertain value={meanV} u={uMeanV} unit="V" /> over {sweeps} {sweeps === 1 ? 'sweep' : 'sweeps'}{trendVPerSweep == null ? null : `, moving ${formatNumber(trendVPerSweep, 3)} V a sweep`}</>,
      })),
      hysteresisV != null && { name: 'Pull-in less release', value: `${formatNumber(hysteresisV, 2)} V: so far the bias may fall before a tripped unit lets go` },
      polarityDifferenceV != null && { name: 'Between the polarities', value: <><Uncertain value={polarityDifferenceV} u={uPolarityDifferenceV ?? 0} unit="V" />: trapped charge shows here</> },
    ]} />
  );
}

const readings = { PARALLEL_PLATE: 'parallel plates, n = 2/3', CONTACT_LIMITED: 'contact before pull-in, n = 2', FREE: 'n fitted' } as const;
type Compared = NonNullable<Unit['curve']>['exponents'][number];

const exponentColumns = [
  { head: 'Reading', cell: ({ reading }: Compared) => readings[reading] },
  { head: 'n', number: true, cell: ({ exponent }: Compared) => formatNumber(exponent, 3) },
  { head: 'P0, nW', number: true, cell: ({ p0Nw }: Compared) => formatNumber(p0Nw, 1) },
  { head: 'ΔAICc', number: true, cell: ({ deltaAicc }: Compared) => (deltaAicc == null ? 'too few tests' : formatNumber(deltaAicc, 1)) },
] as const;

/** The three readings of the exponent, side by side. */
export const ExponentTable = ({ exponents, unit }: { readonly exponents: readonly Compared[]; readonly unit: string }) => (exponents.length === 0 ? null : (
  <>
    <Table caption={`Readings of the exponent of ${unit}`} columns={exponentColumns} rows={exponents} keyOf={({ reading }) => reading} />
    <p>ΔAICc is how much worse than the best a reading fits, its number of parameters counted; below 2 it decides nothing.</p>
  </>
));

/** Band, repeats under chopped light, temperature, resets and cycles of one unit. */
export function PassportParts({ unitId, label, mayRecord }: { readonly unitId: string; readonly label: string; readonly mayRecord: boolean }) {
  const { data, error, refetch } = useQuery(UnitPassport, { variables: { id: unitId } });
  const again = () => void refetch();
  useLive(() => refetch(), ({ kind }) => ['absorption_band', 'chopped_run', 'temperature_run', 'reset_pulse', 'cycle_count', 'amendment'].includes(kind));
  const passport = data?.deviceUnit;
  if (!passport) return <Section title="Further tests">{error ? <Failed what="the further tests" again={again} /> : <Waiting what="the further tests" />}</Section>;
  const { absorptionBands, choppedRuns, choppedRepeatability: repeats, temperatureRuns, resetPulses, cycleCounts, cycleDrift: drift } = passport;
  const entry = { unitId, onRecorded: again };
  return (
    <>
      <AbsorptionBands of={{ deviceUnitId: unitId }} label={label} lead="Where it takes light up. A calibration and a light reference must be of the same band." bands={absorptionBands}
        ofLot={{ label: `lot ${passport.lot.label}`, bands: passport.lot.absorptionBands }} mayRecord={mayRecord} onRecorded={again} />
      <Section title="Repeats under chopped light" lead="The light shut and opened at a rhythm, raised each time until it trips, then reset.">
        {choppedRuns.length === 0 ? <Empty title="No chopped run yet." /> : <Table caption={`Chopped runs of ${label}`} columns={choppedColumns} rows={choppedRuns} keyOf={keyOf} struck={struck} />}
        {repeats ? (
          <p>Over {repeats.groups} runs: one more repeat differs by {formatPercentPlain(repeats.withinSd, 1)} (1 SD; {formatPercentPlain(repeats.withinLow, 1)} to {formatPercentPlain(repeats.withinHigh, 1)} with 95 % confidence), the runs themselves by {formatPercentPlain(repeats.betweenSd, 1)}.</p>
        ) : null}
        {mayRecord ? <ChoppedEntry {...entry} /> : null}
      </Section>
      <Section title="Temperature">
        {temperatureRuns.length === 0 ? <Empty title="No temperature run yet." /> : <Table caption={`Temperature runs of ${label}`} columns={temperatureColumns} rows={temperatureRuns} keyOf={keyOf} struck={struck} />}
        {mayRecord ? <TemperatureEntry {...entry} /> : null}
      </Section>
      <Section title="Reset pulses" lead="What releases the contact after a trip.">
        {resetPulses.length === 0 ? <Empty title="No reset pulse is recorded." /> : <Table caption={`Reset pulses of ${label}`} columns={resetColumns} rows={resetPulses} keyOf={keyOf} struck={struck} />}
        {mayRecord ? <ResetEntry {...entry} /> : null}
      </Section>
      <Section title="Cycles" lead="How often it has closed, and what was measured then.">
        {cycleCounts.length === 0 ? <Empty title="No cycles are counted." /> : <Table caption={`Cycles of ${label}`} columns={cycleColumns} rows={cycleCounts} keyOf={keyOf} struck={struck} />}
        {drift ? (
          <Notice tone={drift.verdict === 'BEYOND' ? 'alarm' : drift.verdict === 'UNDECIDED' ? 'ask' : 'calm'} title={`Drift of pull-in with cycles: ${verdicts[drift.verdict]}.`}>
            <p>{formatNumber(drift.perDecadeV, 3)} V a factor of ten in cycles ({formatNumber(drift.lowV, 3)} V to {formatNumber(drift.highV, 3)} V with 95 % confidence); the limit is {formatNumber(drift.limitV, 3)} V either way.</p>
          </Notice>
        ) : null}
        {mayRecord ? <CycleEntry {...entry} /> : null}
      </Section>
    </>
  );
}
