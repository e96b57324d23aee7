import { median, raise } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';

/** One point of a bias sweep, in the order it was taken. */
export interface SweepPoint {
  /** Signed bias, V. */
  readonly biasV: number;
  /** Signed current, A. */
  readonly currentA: number;
}

export interface SweepSettings {
  /** Least count of the current meter, A: a current below it counts as half of it, since its logarithm must exist. */
  readonly currentResolutionA: number;
  /** Jump that counts as contact, in decades of current. */
  readonly minDecades: number;
}

/** One monotonic part of a sweep in which the contact jumped. */
export interface ContactJump {
  readonly kind: 'pull-in' | 'release';
  readonly polarity: 'positive' | 'negative';
  /** Middle of the step in which it happened, magnitude, V. */
  readonly voltageV: number;
  /** step/√12: anywhere inside the step is as likely. */
  readonly stepSdV: number;
  /** Magnitudes of the last point before and the first after the jump, V. */
  readonly betweenV: readonly [number, number];
  readonly decades: number;
  /** Median open-contact current of this leg, A. */
  readonly openCurrentA: number;
  /** Open-contact median + 3 robust SD, A: what the open contact and the meter show together. */
  readonly noiseFloorA: number;
  /** Median closed-contact current next to the jump, A. */
  readonly closedCurrentA: number;
}

/** A monotonic part of a sweep without a jump, and why. */
export interface QuietLeg {
  readonly kind: 'none';
  readonly polarity: 'positive' | 'negative';
  readonly direction: 'up' | 'down';
  readonly reason: 'too-few-points' | 'no-jump';
  /** Largest jump seen, decades; null where there were too few points to look. */
  readonly largestDecades: number | null;
}

/** Points on each side of a jump whose median must show it: one or two strays do not. */
const WINDOW = 5;
const MIN_POINTS = 2 * WINDOW;

/**
 * Finds pull-in (rising bias) and release (falling bias) in a bias sweep, for either polarity and any number of legs.
 *
 * On a logarithmic scale of |current|, a jump is where the medians of five points before and after differ by at least
 * `minDecades`; it is placed at the first lasting crossing of the level half-way between them. Medians make single strays,
 * contact bounce and a slowly rising leakage harmless.
 *
 * @param points in the order taken; bias in V, current in A, both signed
 * @param settings meter resolution and the least jump that counts as contact
 * @returns one entry a leg (monotonic part of one polarity), in order: a jump, or why there is none
 * @throws InputError `EMPTY_SWEEP`, `NOT_POSITIVE`, `NOT_FINITE`
 *
 * Points at zero bias say nothing of the contact and are left out.
 *
 * @example
 * const points = Array.from({ length: 20 }, (_, k) => ({ biasV: k + 1, currentA: k < 12 ? 1e-12 : 1e-6 }));
 * const [jump] = findContactJumps(points, { currentResolutionA: 1e-13, minDecades: 2 });
 * [jump.kind, jump.voltageV, jump.decades] // => ['pull-in', 12.5, 6]
 */
export function findContactJumps(points: readonly SweepPoint[], settings: SweepSettings): readonly (ContactJump | QuietLeg)[] {
  requirePositive('currentResolutionA', settings.currentResolutionA);
  requirePositive('minDecades', settings.minDecades);
  if (points.length === 0) throw new InputError('EMPTY_SWEEP', 'points', 'the sweep has no points', 'Check the file or the import mapping.');
  points.forEach((p, i) => {
    requireFinite(`points[${i}].biasV`, p.biasV);
    requireFinite(`points[${i}].currentA`, p.currentA);
  });
  return legsOf(points).map((leg) => judgeLeg(leg, settings));
}

interface Leg {
  readonly polarity: 'positive' | 'negative';
  readonly direction: 'up' | 'down';
  /** By rising magnitude of the bias, whichever way it was swept: a release is a pull-in seen backwards. */
  readonly rising: readonly { readonly v: number; readonly i: number }[];
}

/** Cuts a sweep where |bias| turns or the polarity changes; a repeated bias belongs to the leg it stands in. */
function legsOf(points: readonly SweepPoint[]): Leg[] {
  const legs: Leg[] = [];
  let run: { v: number; i: number }[] = [];
  let sign = 0;
  let direction = 0;
  const close = (): void => {
    if (run.length > 0) {
      legs.push({
        polarity: sign > 0 ? 'positive' : 'negative',
        direction: direction < 0 ? 'down' : 'up',
        rising: direction < 0 ? run.reverse() : run,
      });
    }
    run = [];
    direction = 0;
  };
  for (const { biasV, currentA } of points) {
    if (biasV === 0) continue;
    const v = Math.abs(biasV);
    const step = run.length === 0 ? 0 : Math.sign(v - run.at(-1)!.v);
    if (Math.sign(biasV) !== sign) close();
    else if (step !== 0 && direction !== 0 && step !== direction) {
      const turn = run.at(-1)!;
      close();
      run.push(turn);
      direction = step;
    } else if (step !== 0) direction = step;
    sign = Math.sign(biasV);
    run.push({ v, i: Math.abs(currentA) });
  }
  close();
  return legs;
}

function judgeLeg({ polarity, direction, rising }: Leg, settings: SweepSettings): ContactJump | QuietLeg {
  if (rising.length < MIN_POINTS) return { kind: 'none', polarity, direction, reason: 'too-few-points', largestDecades: null };
  const floor = settings.currentResolutionA;
  const logs = rising.map(({ i }) => Math.log10(i < floor ? floor / 2 : i));
  const window = (from: number): number => median(logs.slice(from, from + WINDOW));
  let largest = -Infinity;
  let best = 0;
  for (let k = WINDOW; k <= logs.length - WINDOW; k += 1) {
    const jump = window(k) - window(k - WINDOW);
    if (jump > largest) [largest, best] = [jump, k];
  }
  if (largest < settings.minDecades) return { kind: 'none', polarity, direction, reason: 'no-jump', largestDecades: largest };
  const first = crossing(logs, best, (window(best) + window(best - WINDOW)) / 2);
  const before = rising[first - 1]!;
  const after = rising[first]!;
  const open = rising.slice(0, first).map(({ i }) => i);
  const openCurrentA = median(open);
  const closedCurrentA = raise(10, window(Math.min(first, logs.length - WINDOW)));
  return {
    kind: direction === 'up' ? 'pull-in' : 'release',
    polarity,
    voltageV: (before.v + after.v) / 2,
    stepSdV: (after.v - before.v) / Math.sqrt(12),
    betweenV: [before.v, after.v],
    decades: Math.log10(closedCurrentA) - window(Math.max(first - WINDOW, 0)),
    openCurrentA,
    // 1.4826·MAD is the SD of a normal spread that strays do not move.
    noiseFloorA: openCurrentA + 3 * 1.4826 * median(open.map((i) => Math.abs(i - openCurrentA))),
    closedCurrentA,
  };
}

/** First point near the jump from which on the level is passed for good: it, its neighbour and most of the window lie above. */
function crossing(logs: readonly number[], near: number, level: number): number {
  for (let k = Math.max(near - WINDOW, 1); k < logs.length - 1; k += 1) {
    const above = logs.slice(k, k + WINDOW).filter((l) => l >= level).length;
    if (logs[k]! >= level && logs[k + 1]! >= level && above > Math.min(WINDOW, logs.length - k) / 2) return k;
  }
  return near;
}

/** Pull-in of one polarity over several sweeps. */
export interface PullInSummary {
  readonly polarity: 'positive' | 'negative';
  readonly sweeps: number;
  readonly meanV: number;
  /** SD between sweeps, V; null with one sweep. */
  readonly betweenSweepsSdV: number | null;
  /** Standard uncertainty of the mean: √(s²/n + mean step²/12), V. */
  readonly standardUncertaintyV: number;
  /** Change of pull-in from sweep to sweep (slope), V per sweep: charging shows here; null below three sweeps. */
  readonly trendVPerSweep: number | null;
}

export interface SweepSummary {
  readonly pullIn: readonly PullInSummary[];
  /** Mean pull-in less mean release over both polarities, V; null without a release. */
  readonly hysteresisV: number | null;
  /** Positive less negative pull-in, V, with its standard uncertainty: trapped charge shows here; null without both. */
  readonly polarityDifference: { readonly differenceV: number; readonly standardUncertaintyV: number } | null;
}

/**
 * Sums the jumps of a unit's sweeps up: pull-in by polarity with its uncertainty, hysteresis, polarity difference.
 *
 * @param jumps of {@link findContactJumps}, all sweeps of one unit in the order taken (quiet legs may be among them)
 * @returns summaries by polarity, positive first
 * @throws InputError `NO_PULL_IN` when no leg shows one
 *
 * The step of the source is shared by all sweeps, so repeating does not average it away (JCGM 100:2008, F.2.2.1).
 *
 * @example
 * const points = Array.from({ length: 20 }, (_, k) => ({ biasV: k + 1, currentA: k < 12 ? 1e-12 : 1e-6 }));
 * const { pullIn } = summariseSweeps(findContactJumps(points, { currentResolutionA: 1e-13, minDecades: 2 }));
 * [pullIn[0].meanV, pullIn[0].standardUncertaintyV] // => [12.5, 1 / Math.sqrt(12)]
 */
export function summariseSweeps(jumps: readonly (ContactJump | QuietLeg)[]): SweepSummary {
  const contacts = jumps.filter((j): j is ContactJump => j.kind !== 'none');
  const pullIn = (['positive', 'negative'] as const).flatMap((polarity) => {
    const found = contacts.filter((j) => j.kind === 'pull-in' && j.polarity === polarity);
    return found.length === 0 ? [] : [summarisePolarity(polarity, found)];
  });
  if (pullIn.length === 0) {
    throw new InputError('NO_PULL_IN', 'points', 'no leg of the sweep shows the contact closing', 'Sweep to a higher bias, or lower the jump that counts as contact.');
  }
  const releases = contacts.filter((j) => j.kind === 'release').map((j) => j.voltageV);
  const [plus, minus] = [pullIn.find((p) => p.polarity === 'positive'), pullIn.find((p) => p.polarity === 'negative')];
  return {
    pullIn,
    hysteresisV: releases.length === 0 ? null : mean(contacts.filter((j) => j.kind === 'pull-in').map((j) => j.voltageV)) - mean(releases),
    polarityDifference: plus && minus
      ? { differenceV: plus.meanV - minus.meanV, standardUncertaintyV: Math.hypot(plus.standardUncertaintyV, minus.standardUncertaintyV) } : null,
  };
}

const mean = (values: readonly number[]): number => values.reduce((s, v) => s + v, 0) / values.length;

function summarisePolarity(polarity: 'positive' | 'negative', jumps: readonly ContactJump[]): PullInSummary {
  const n = jumps.length;
  const meanV = mean(jumps.map((j) => j.voltageV));
  const variance = n < 2 ? null : jumps.reduce((s, j) => s + (j.voltageV - meanV) ** 2, 0) / (n - 1);
  const middle = (n - 1) / 2;
  const orderSpread = jumps.reduce((s, _, k) => s + (k - middle) ** 2, 0);
  return {
    polarity,
    sweeps: n,
    meanV,
    betweenSweepsSdV: variance === null ? null : Math.sqrt(variance),
    standardUncertaintyV: Math.sqrt((variance ?? 0) / n + mean(jumps.map((j) => j.stepSdV ** 2))),
    trendVPerSweep: n < 3 ? null : jumps.reduce((s, j, k) => s + (k - middle) * (j.voltageV - meanV), 0) / orderSpread,
  };
}
