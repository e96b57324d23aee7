import { studentTQuantile } from '#libs/numeric';
import {
  compareScatter, findContactJumps, summariseSweeps, thresholdPower, thresholdUncertainty, type BiasThresholdFit, type ContactJump,
} from '#libs/switch-device';
import type { BiasSweep, TripTest } from './device.entity.js';
import type { CurveDocument } from './curve-document.js';

/** Current steps of less than this many decades are not contact. Common practice, no source. */
const LEAST_DECADES = 2;
/** Currents below this count as half of it: picoammeters show little below. Common practice, no source. */
const CURRENT_RESOLUTION_A = 1e-12;
/** A smaller difference of AICc decides nothing. Common practice, no source. */
const DECISIVE_AICC = 2;
const LINE_STEPS = 40;

/** Contact jumps of one sweep, leg by leg. */
export const jumpsOf = (steps: BiasSweep['steps']): ReturnType<typeof findContactJumps> =>
  findContactJumps(
    steps.map(([biasV, currentA]) => ({ biasV, currentA })),
    { currentResolutionA: CURRENT_RESOLUTION_A, minDecades: LEAST_DECADES },
  );

/** The pull-in of one sweep: bias and its standard uncertainty in V, or null where the current did not jump. */
export function pullInOf(steps: BiasSweep['steps']): { pullInV: number; uPullInV: number } | null {
  const pullIn = jumpsOf(steps).find((jump): jump is ContactJump => jump.kind === 'pull-in');
  return pullIn ? { pullInV: pullIn.voltageV, uPullInV: pullIn.stepSdV } : null;
}

/** The bias at which the contact opened again, V; null where the sweep shows none. */
export const releaseOf = (steps: BiasSweep['steps']): number | null => jumpsOf(steps).find((jump): jump is ContactJump => jump.kind === 'release')?.voltageV ?? null;

/** Pull-in over all sweeps of a unit at positive bias, as trip tests are made; null where none shows it. */
export function pullInOfSweeps(sweeps: readonly BiasSweep[]): { pullInV: number; pullInSdV: number } | null {
  const jumps = sweeps.flatMap(({ steps }) => jumpsOf(steps));
  if (!jumps.some(({ kind }) => kind === 'pull-in')) return null;
  const [first] = summariseSweeps(jumps).pullIn;
  return { pullInV: first!.meanV, pullInSdV: first!.standardUncertaintyV };
}

/** What a tripped unit needs to stay latched, at the bias of trip tests: the highest release that a sweep showed. */
function holdOf(sweeps: readonly BiasSweep[]): number | null {
  const releases = sweeps.filter(({ polarity }) => polarity === 'POSITIVE').flatMap(({ steps }) => releaseOf(steps) ?? []);
  return releases.length === 0 ? null : Math.max(...releases);
}

/** Of the two readings of how trip powers scatter, the one the tests speak for; constant where they do not decide. */
function fitOf(tripTests: readonly TripTest[], exponent: number | null, known: { pullInV: number; pullInSdV: number } | null): BiasThresholdFit {
  const tests = tripTests.map(({ biasV, tripPowerNw }) => ({ biasV: Number(biasV), tripPowerNw: Number(tripPowerNw) }));
  const [constant, proportional] = compareScatter(tests, { exponent: exponent ?? 'free', ...(known ?? {}) });
  return (proportional!.deltaAicc === 0 && (constant!.deltaAicc ?? 0) >= DECISIVE_AICC ? proportional! : constant!).fit;
}

/**
 * Fits a unit's bias-threshold curve to its trip tests, with pull-in held as its sweeps found it where there are any.
 *
 * @param exponent held value within 2/3 to 2, or null to fit it
 * @throws InputError where the tests do not decide a curve
 */
export function computeCurve(tripTests: readonly TripTest[], sweeps: readonly BiasSweep[], exponent: number | null): CurveDocument {
  const known = pullInOfSweeps(sweeps);
  const fit = fitOf(tripTests, exponent, known);
  const t = studentTQuantile(0.975, fit.degreesOfFreedom);
  const { min, max } = fit.testedBiasV;
  return {
    p0Nw: fit.powerAtZeroBiasNw,
    pullInV: fit.pullInV,
    exponent: fit.exponent,
    exponentFree: exponent === null,
    exponentAtBound: fit.exponentAtBound,
    pullInFrom: known ? 'sweeps' : 'trip tests',
    covariance: fit.covariance,
    scatter: fit.scatter === 'proportional' ? 'proportional' : 'constant',
    residualSdNw: Math.sqrt(fit.residualsNw.reduce((sum, r) => sum + r * r, 0) / Math.max(fit.degreesOfFreedom, 1)),
    tripScatter: fit.relativeResidualSd,
    degreesOfFreedom: fit.degreesOfFreedom,
    biasMinV: min,
    biasMaxV: max,
    holdV: holdOf(sweeps),
    tripTestIds: tripTests.map(({ id }) => id),
    line: Array.from({ length: LINE_STEPS + 1 }, (_, i) => {
      const biasV = min + ((max - min) * i) / LINE_STEPS;
      const powerNw = thresholdPower(fit, biasV);
      const half = t * thresholdUncertainty(fit, biasV, 0).powerNw;
      return { biasV, powerNw, lowNw: powerNw - half, highNw: powerNw + half };
    }),
  };
}
