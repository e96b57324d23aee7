import { familyFrom, type Family } from './family.js';
import { lineThrough } from './start.js';

const UNBOUNDED = [-Infinity, -Infinity];
const OPEN = [Infinity, Infinity];

/** ln T = a + c·x: absorption along a path in proportion to the water in it (Beer-Lambert in form). The default. */
export const logLinear: Family = familyFrom({
  name: 'log-linear',
  formula: 'ln T = a + c·x',
  parameterNames: ['a', 'c'],
  lower: UNBOUNDED,
  upper: OPEN,
  errorScale: 'relative',
  line: { errorScale: 'relative', predictor: (x) => x, predictorInverse: (z) => z, response: Math.log },
  evaluate(p, x, gradient) {
    const t = Math.exp(p[0]! + p[1]! * x);
    if (gradient !== null) {
      gradient[0] = t;
      gradient[1] = t * x;
    }
    return t;
  },
  slope: (p, x) => p[1]! * Math.exp(p[0]! + p[1]! * x),
  slopeGradient(p, x) {
    const t = Math.exp(p[0]! + p[1]! * x);
    return [p[1]! * t, t * (1 + p[1]! * x)];
  },
  inverse: (p, t) => (t > 0 && p[1] !== 0 ? (Math.log(t) - p[0]!) / p[1]! : null),
  initial: (x, t) => lineThrough(x, t.map(Math.log)),
});

/** T = a + c·x. */
export const linear: Family = familyFrom({
  name: 'linear',
  formula: 'T = a + c·x',
  parameterNames: ['a', 'c'],
  lower: UNBOUNDED,
  upper: OPEN,
  errorScale: 'absolute',
  line: { errorScale: 'absolute', predictor: (x) => x, predictorInverse: (z) => z, response: (t) => t },
  evaluate(p, x, gradient) {
    if (gradient !== null) {
      gradient[0] = 1;
      gradient[1] = x;
    }
    return p[0]! + p[1]! * x;
  },
  slope: (p) => p[1]!,
  slopeGradient: () => [0, 1],
  inverse: (p, t) => (p[1] !== 0 ? (t - p[0]!) / p[1]! : null),
  initial: (x, t) => lineThrough(x, t),
});

/** ln T = a + c·ln x, for x above zero. */
export const power: Family = familyFrom({
  name: 'power',
  formula: 'ln T = a + c·ln x',
  parameterNames: ['a', 'c'],
  lower: UNBOUNDED,
  upper: OPEN,
  errorScale: 'relative',
  line: { errorScale: 'relative', predictor: Math.log, predictorInverse: Math.exp, response: Math.log },
  evaluate(p, x, gradient) {
    const t = Math.exp(p[0]! + p[1]! * Math.log(x));
    if (gradient !== null) {
      gradient[0] = t;
      gradient[1] = t * Math.log(x);
    }
    return t;
  },
  slope: (p, x) => (p[1]! / x) * Math.exp(p[0]! + p[1]! * Math.log(x)),
  slopeGradient(p, x) {
    const t = Math.exp(p[0]! + p[1]! * Math.log(x));
    return [(p[1]! / x) * t, (t / x) * (1 + p[1]! * Math.log(x))];
  },
  inverse: (p, t) => (t > 0 && p[1] !== 0 ? Math.exp((Math.log(t) - p[0]!) / p[1]!) : null),
  initial: (x, t) => lineThrough(x.map(Math.log), t.map(Math.log)),
});
