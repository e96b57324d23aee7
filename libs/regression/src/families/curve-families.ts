import { familyFrom, type Family } from './family.js';
import { bestNonNegativeLine } from './start.js';

const { exp } = Math;

/** T = floor + amplitude·exp(rate·x): absorption over light that never meets water (scatter, stray light, dry matter). */
export const exponential: Family = familyFrom({
  name: 'exponential',
  formula: 'T = floor + amplitude·exp(rate·x)',
  parameterNames: ['floor', 'amplitude', 'rate'],
  // Neither light that passes by the water nor light that passes through it can be negative.
  lower: [0, 0, -Infinity],
  upper: [Infinity, Infinity, Infinity],
  errorScale: 'absolute',
  line: null,
  evaluate(p, x, gradient) {
    const e = exp(p[2]! * x);
    if (gradient !== null) {
      gradient[0] = 1;
      gradient[1] = e;
      gradient[2] = p[1]! * x * e;
    }
    return p[0]! + p[1]! * e;
  },
  evaluateAll(p, x, values, derivatives) {
    const n = x.length;
    const floor = p[0]!;
    const amplitude = p[1]!;
    const rate = p[2]!;
    for (let i = 0; i < n; i++) {
      const e = exp(rate * x[i]!);
      values[i] = floor + amplitude * e;
      derivatives[i] = 1;
      derivatives[n + i] = e;
      derivatives[2 * n + i] = amplitude * x[i]! * e;
    }
  },
  slope: (p, x) => p[1]! * p[2]! * exp(p[2]! * x),
  slopeGradient(p, x) {
    const e = exp(p[2]! * x);
    return [0, p[2]! * e, p[1]! * e * (1 + p[2]! * x)];
  },
  inverse(p, t) {
    const ratio = (t - p[0]!) / p[1]!;
    return ratio > 0 && Number.isFinite(ratio) && p[2] !== 0 ? Math.log(ratio) / p[2]! : null;
  },
  initial(x, t) {
    const width = Math.max(...x) - Math.min(...x);
    let best = { sum: Infinity, parameters: [0, 1, -1] };
    for (const turns of [0.1, 0.3, 0.6, 1, 1.5, 2.5, 4, 8]) {
      for (const sign of [-1, 1]) {
        const rate = (sign * turns) / width;
        const line = bestNonNegativeLine(x.map((value) => exp(rate * value)), t);
        if (line.sum < best.sum) best = { sum: line.sum, parameters: [line.intercept, line.slope, rate] };
      }
    }
    return best.parameters;
  },
});

/** T = floor + span / (1 + exp(steepness·(x − midpoint))): falls with x where steepness is above zero. */
export const logistic: Family = familyFrom({
  name: 'logistic',
  formula: 'T = floor + span / (1 + exp(steepness·(x − midpoint)))',
  parameterNames: ['floor', 'span', 'steepness', 'midpoint'],
  // A negative span with the opposite steepness is the same curve: one of the two is shut out, so that the answer is one.
  lower: [0, 0, -Infinity, -Infinity],
  upper: [Infinity, Infinity, Infinity, Infinity],
  errorScale: 'absolute',
  line: null,
  evaluate(p, x, gradient) {
    const s = 1 / (1 + exp(p[2]! * (x - p[3]!)));
    if (gradient !== null) {
      const bell = p[1]! * s * (1 - s);
      gradient[0] = 1;
      gradient[1] = s;
      gradient[2] = -bell * (x - p[3]!);
      gradient[3] = bell * p[2]!;
    }
    return p[0]! + p[1]! * s;
  },
  evaluateAll(p, x, values, derivatives) {
    const n = x.length;
    const floor = p[0]!;
    const span = p[1]!;
    const steepness = p[2]!;
    const midpoint = p[3]!;
    for (let i = 0; i < n; i++) {
      const s = 1 / (1 + exp(steepness * (x[i]! - midpoint)));
      const bell = span * s * (1 - s);
      values[i] = floor + span * s;
      derivatives[i] = 1;
      derivatives[n + i] = s;
      derivatives[2 * n + i] = -bell * (x[i]! - midpoint);
      derivatives[3 * n + i] = bell * steepness;
    }
  },
  slope(p, x) {
    const s = 1 / (1 + exp(p[2]! * (x - p[3]!)));
    return -p[1]! * p[2]! * s * (1 - s);
  },
  slopeGradient(p, x) {
    const s = 1 / (1 + exp(p[2]! * (x - p[3]!)));
    const bell = s * (1 - s);
    const skew = bell * (1 - 2 * s);
    return [0, -p[2]! * bell, -p[1]! * bell + p[1]! * p[2]! * skew * (x - p[3]!), -p[1]! * p[2]! * p[2]! * skew];
  },
  inverse(p, t) {
    const share = (t - p[0]!) / p[1]!;
    return share > 0 && share < 1 && p[2] !== 0 ? p[3]! + Math.log(1 / share - 1) / p[2]! : null;
  },
  initial(x, t) {
    const from = Math.min(...x);
    const width = Math.max(...x) - from;
    let best = { sum: Infinity, parameters: [0, 1, 1, 0] };
    for (const turns of [1, 2, 4, 8, 16]) {
      for (const sign of [-1, 1]) {
        for (const share of [-0.5, 0, 0.25, 0.5, 0.75, 1, 1.5]) {
          const steepness = (sign * turns) / width;
          const midpoint = from + share * width;
          const line = bestNonNegativeLine(x.map((value) => 1 / (1 + exp(steepness * (value - midpoint)))), t);
          if (line.sum < best.sum) best = { sum: line.sum, parameters: [line.intercept, line.slope, steepness, midpoint] };
        }
      }
    }
    return best.parameters;
  },
});
