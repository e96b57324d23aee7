import { controlLimits } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import {
  compareExponents, driftPerDecade, repeatabilityByAnova, summariseSweeps, thermalDrift, type CycleDrift as Drift, type SweepSummary as Summary,
} from '#libs/switch-device';
import type { ComparedExponent, ControlChart, CycleDrift, Flag, LotStatistics, SpreadParts, SweepSummary } from '../../generated/schema.js';
import { jumpsOf, pullInOf, pullInOfSweeps } from '../device/compute.js';
import type { BiasSweep, BiasThresholdCurve, DeviceUnit, TripTest } from '../device/device.entity.js';
import type { ChoppedRun, CycleCount, ResetPulse, TemperatureRun } from './passport.entity.js';

/** Pull-in may move by this part of itself a decade of cycles. Common practice, no source. */
const DRIFT_LIMIT_RELATIVE = 0.005;
/** Hot-switched gold-platinum contacts degraded after about this many cycles in air (Sandia report of 2005, by the trade's notes). */
const HOT_CYCLES_WARN = 100;
/** Pull-in that differs so much between the first and the newest sweep asks for a new curve. Common practice, no source. */
const PULL_IN_MOVED_RELATIVE = 0.02;
/** Positive and negative pull-in that differ so much tell of trapped charge. Common practice, no source. */
const POLARITY_RELATIVE = 0.03;
/** Fewer decades between on and off current make a doubtful contact. Common practice, no source. */
const LEAST_CONTACT_DECADES = 2;
/** A trip power that moves more a kelvin costs a point of RWC in about five kelvin. Derived: 0.2 %/K times five is one per cent. */
const THERMAL_LIMIT_PER_K = 0.002;

/** An ask of the library that the data cannot answer yet is no failure here: there is nothing to show. */
function orNull<T>(work: () => T): T | null {
  try {
    return work();
  } catch (error) {
    if (error instanceof InputError) return null;
    throw error;
  }
}

export function sweepSummaryOf(sweeps: readonly BiasSweep[]): SweepSummary | null {
  const summary = orNull<Summary>(() => summariseSweeps(sweeps.flatMap(({ steps }) => jumpsOf(steps))));
  return summary && {
    pullIn: summary.pullIn.map(({ polarity, sweeps: count, meanV, standardUncertaintyV, betweenSweepsSdV, trendVPerSweep }) => ({
      polarity: polarity === 'positive' ? 'POSITIVE' : 'NEGATIVE', sweeps: count, meanV, uMeanV: standardUncertaintyV, betweenSweepsSdV, trendVPerSweep,
    })),
    hysteresisV: summary.hysteresisV,
    polarityDifferenceV: summary.polarityDifference?.differenceV ?? null,
    uPolarityDifferenceV: summary.polarityDifference?.standardUncertaintyV ?? null,
  };
}

/** Analysis of variance of ln values: its standard deviations are relative ones. */
function spreadParts(groups: readonly (readonly number[])[]): SpreadParts | null {
  const told = groups.filter((group) => group.length > 0).map((group) => group.map(Math.log));
  const anova = orNull(() => repeatabilityByAnova(told));
  return anova && {
    withinSd: anova.repeatabilitySd, withinLow: anova.repeatabilityInterval95.low, withinHigh: anova.repeatabilityInterval95.high,
    betweenSd: anova.betweenUnitSd, groups: anova.units, observations: anova.observations, pValue: anova.pValue,
  };
}

const trippedAt = ({ tripPowersNw }: ChoppedRun): number[] => tripPowersNw.filter((power): power is number => power !== null);

/** Between and within chopped runs of one unit at one bias: the bias of most of them. */
export const choppedRepeatabilityOf = (runs: readonly ChoppedRun[]): SpreadParts | null => {
  const bias = commonest(runs.map(({ biasV }) => biasV));
  return spreadParts(runs.filter(({ biasV }) => biasV === bias).map(trippedAt));
};

export function cycleDriftOf(counts: readonly CycleCount[]): CycleDrift | null {
  const told = counts.flatMap(({ cycles, pullInV }) => (pullInV === null || cycles < 1 ? [] : [{ cycles, value: Number(pullInV) }]));
  if (told.length === 0) return null;
  const limitV = (DRIFT_LIMIT_RELATIVE * told.reduce((sum, { value }) => sum + value, 0)) / told.length;
  const drift = orNull<Drift>(() => driftPerDecade(told, { limitPerDecade: limitV, coverage: 0.95 }));
  return drift && { perDecadeV: drift.perDecade, lowV: drift.interval.low, highV: drift.interval.high, limitV, verdict: drift.verdict === 'within' ? 'WITHIN' : drift.verdict === 'beyond' ? 'BEYOND' : 'UNDECIDED' };
}

export const thermalOf = ({ steps }: TemperatureRun): { relativePerK: number; uRelativePerK: number } => {
  const { perK, standardError } = thermalDrift(steps.map(([temperatureC, tripPowerNw]) => ({ temperatureC, tripPowerNw })));
  return { relativePerK: perK, uRelativePerK: standardError };
};

export function chopSummaryOf(run: ChoppedRun): { openings: number; missed: number; meanNw: number | null; relativeSd: number | null } {
  const powers = trippedAt(run);
  const mean = powers.length === 0 ? null : powers.reduce((sum, power) => sum + power, 0) / powers.length;
  const sd = mean === null || powers.length < 2 ? null : Math.sqrt(powers.reduce((sum, power) => sum + (power - mean) ** 2, 0) / (powers.length - 1)) / mean;
  return { openings: run.tripPowersNw.length, missed: run.tripPowersNw.length - powers.length, meanNw: mean, relativeSd: sd };
}

/** The three readings of the exponent, with pull-in held as the sweeps have it, as the curve itself was fitted. */
export function exponentsOf(tests: readonly TripTest[], sweeps: readonly BiasSweep[]): ComparedExponent[] {
  const known = pullInOfSweeps(sweeps) ?? {};
  const compared = orNull(() => compareExponents(tests.map(({ biasV, tripPowerNw }) => ({ biasV: Number(biasV), tripPowerNw: Number(tripPowerNw) })), known)) ?? [];
  return compared.map(({ name, fit, deltaAicc }) => ({
    reading: name === 'parallel-plate' ? 'PARALLEL_PLATE' : name === 'contact-limited' ? 'CONTACT_LIMITED' : 'FREE',
    exponent: fit.exponent, p0Nw: fit.powerAtZeroBiasNw, pullInV: fit.pullInV, residualSdNw: fit.residualSd, deltaAicc: deltaAicc !== null && Number.isFinite(deltaAicc) ? deltaAicc : null,
  }));
}

export interface UnitRecord {
  readonly sweeps: readonly BiasSweep[];
  readonly tripTests: readonly TripTest[];
  readonly resetPulses: readonly ResetPulse[];
  readonly cycleCounts: readonly CycleCount[];
  readonly choppedRuns: readonly ChoppedRun[];
  readonly temperatureRuns: readonly TemperatureRun[];
}

const percent = (fraction: number): string => `${(100 * fraction).toFixed(1)} %`;

/** What speaks for taking a unit out of service, or for testing it anew: rules of the house, told with their numbers. */
export function remarksOn(unit: UnitRecord): Flag[] {
  const flags: Flag[] = [];
  const say = (code: string, message: string): void => { flags.push({ code, severity: 'WARN', message }); };
  const lastTwo = unit.resetPulses.slice(-2);
  if (lastTwo.length === 2 && lastTwo.every(({ succeeded }) => !succeeded)) say('RESET_FAILS', 'The last two reset pulses did not release the contact.');
  const newest = unit.cycleCounts.at(-1);
  if (newest?.switching === 'HOT' && newest.cycles > HOT_CYCLES_WARN) say('HOT_CYCLES', `It has gone through ${newest.cycles} cycles under current; contacts may degrade after about ${HOT_CYCLES_WARN}.`);
  const ups = unit.sweeps.filter(({ polarity }) => polarity === 'POSITIVE').flatMap(({ steps }) => pullInOf(steps)?.pullInV ?? []);
  const moved = ups.length < 2 ? 0 : (ups.at(-1)! - ups[0]!) / ups[0]!;
  if (Math.abs(moved) > PULL_IN_MOVED_RELATIVE) say('PULL_IN_MOVED', `Pull-in moved by ${percent(moved)} from the first sweep to the newest: fit the curve anew.`);
  const summary = sweepSummaryOf(unit.sweeps);
  const [positive] = summary?.pullIn ?? [];
  if (positive && Math.abs(summary?.polarityDifferenceV ?? 0) > POLARITY_RELATIVE * positive.meanV) {
    say('CHARGED', `Pull-in differs by ${summary!.polarityDifferenceV!.toFixed(2)} V between the polarities: trapped charge shifts the bias.`);
  }
  if (cycleDriftOf(unit.cycleCounts)?.verdict === 'BEYOND') say('DRIFTS', 'Pull-in drifts with cycles beyond its limit: burn the unit in, or retire it.');
  const doubtful = unit.tripTests.filter(({ onCurrentA, offCurrentA }) => onCurrentA !== null && offCurrentA !== null && Math.log10(Number(onCurrentA) / Number(offCurrentA)) < LEAST_CONTACT_DECADES);
  if (doubtful.length > 0) say('WEAK_CONTACT', `In ${doubtful.length} of ${unit.tripTests.length} trip tests the current changed by less than ${LEAST_CONTACT_DECADES} decades.`);
  const missed = unit.choppedRuns.reduce((sum, run) => sum + chopSummaryOf(run).missed, 0);
  if (missed > 0) say('MISSED_TRIPS', `Under chopped light it did not trip in ${missed} ${missed === 1 ? 'opening' : 'openings'}.`);
  const warmest = unit.temperatureRuns.map(thermalOf).find(({ relativePerK, uRelativePerK }) => Math.abs(relativePerK) - 2 * uRelativePerK > THERMAL_LIMIT_PER_K);
  if (warmest) say('TEMPERATURE', `Its trip power moves by ${(100 * warmest.relativePerK).toFixed(2)} % a kelvin: ten kelvin are ${percent(10 * warmest.relativePerK)} of power.`);
  return flags;
}

function commonest(values: readonly string[]): string | null {
  const counts = new Map<string, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts].sort(([, a], [, b]) => b - a)[0]?.[0] ?? null;
}

export interface LotUnit {
  readonly unit: DeviceUnit;
  readonly sweeps: readonly BiasSweep[];
  readonly choppedRuns: readonly ChoppedRun[];
  readonly curve: BiasThresholdCurve | null;
  readonly retired: boolean;
}

function chartOf(unit: string, told: readonly (readonly [DeviceUnit, number])[]): ControlChart | null {
  const limits = orNull(() => controlLimits(told.map(([, value]) => value)));
  return limits && {
    centre: limits.centre, low: limits.low, high: limits.high, unit,
    points: told.map(([{ id, label }, value], i) => ({ deviceUnitId: id, label, value, outside: limits.outside.includes(i) })),
  };
}

/** What the units of a lot have in common and by how much they differ. Units come in order of their label. */
export function lotStatisticsOf(units: readonly LotUnit[]): LotStatistics {
  const thresholdBias = commonest(units.flatMap(({ choppedRuns }) => [...new Set(choppedRuns.map(({ biasV }) => biasV))]));
  const meanPullIn = units.flatMap(({ unit, sweeps }): (readonly [DeviceUnit, number])[] => {
    const known = pullInOfSweeps(sweeps);
    return known ? [[unit, known.pullInV]] : [];
  });
  return {
    units: units.length,
    characterised: units.filter(({ curve }) => curve !== null).length,
    retired: units.filter(({ retired }) => retired).length,
    pullIn: spreadParts(units.map(({ sweeps }) => sweeps.flatMap(({ steps }) => pullInOf(steps)?.pullInV ?? []))),
    threshold: spreadParts(units.map(({ choppedRuns }) => choppedRuns.filter(({ biasV }) => biasV === thresholdBias).flatMap(trippedAt))),
    thresholdBiasV: thresholdBias === null ? null : Number(thresholdBias),
    pullInChart: chartOf('V', meanPullIn),
    p0Chart: chartOf('nW', units.flatMap(({ unit, curve }): (readonly [DeviceUnit, number])[] => (curve ? [[unit, curve.document.p0Nw]] : []))),
  };
}

