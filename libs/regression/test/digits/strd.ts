import { readFileSync } from 'node:fs';
import { fitLinear, fitNonlinear, fitPolynomial, modelFromFormula, type Dual, type LeastSquaresFit } from '#libs/regression';

/** One problem of the NIST Statistical Reference Datasets, as typed into the fixture. */
export interface StrdProblem {
  readonly name: string;
  readonly kind: 'linear' | 'nonlinear';
  readonly difficulty: 'Lower' | 'Average' | 'Higher';
  readonly model: string;
  readonly powers?: readonly number[];
  readonly starts?: readonly (readonly number[])[];
  readonly x: readonly (number | readonly number[])[];
  readonly y: readonly number[];
  readonly params: readonly number[];
  readonly se: readonly number[];
  readonly residualSd: number;
}

export const strdProblems: readonly StrdProblem[] = (
  JSON.parse(readFileSync(new URL('../fixtures/nist-strd.json', import.meta.url), 'utf8')) as { problems: StrdProblem[] }
).problems;

type Formula = (b: readonly Dual[], x: number, x2: number) => Dual;

const ratio = (b: readonly Dual[], x: number, above: number): Dual => {
  const polynomial = (coefficients: readonly Dual[], first: number) =>
    coefficients.map((c, k) => c.times(x ** (first + k))).reduce((sum, term) => sum.plus(term));
  return polynomial(b.slice(0, above), 0).over(polynomial(b.slice(above), 1).plus(1));
};
const decay = (scale: Dual, rate: Dual, x: number) => scale.times(rate.times(-x).exp());
const bell = (height: Dual, centre: Dual, width: Dual, x: number) =>
  height.times(centre.minus(x).over(width).power(2).negated().exp());
const saturation = ([b1, b2]: readonly Dual[], x: number) => b1!.times(b2!.times(-x).exp().negated().plus(1));
const threeDecays: Formula = (b, x) => decay(b[0]!, b[1]!, x).plus(decay(b[2]!, b[3]!, x)).plus(decay(b[4]!, b[5]!, x));
const twoBells: Formula = (b, x) => decay(b[0]!, b[1]!, x).plus(bell(b[2]!, b[3]!, b[4]!, x)).plus(bell(b[5]!, b[6]!, b[7]!, x));
const chwirut: Formula = (b, x) => b[0]!.times(-x).exp().over(b[2]!.times(x).plus(b[1]!));

/** The models as NIST prints them, parameter by parameter. */
const formulas: Readonly<Record<string, Formula>> = {
  Misra1a: saturation,
  BoxBOD: saturation,
  Misra1b: ([b1, b2], x) => b1!.times(b2!.times(x / 2).plus(1).power(-2).negated().plus(1)),
  Misra1c: ([b1, b2], x) => b1!.times(b2!.times(2 * x).plus(1).power(-0.5).negated().plus(1)),
  Misra1d: ([b1, b2], x) => b1!.times(b2!).times(x).over(b2!.times(x).plus(1)),
  Chwirut1: chwirut,
  Chwirut2: chwirut,
  Lanczos1: threeDecays,
  Lanczos2: threeDecays,
  Lanczos3: threeDecays,
  Gauss1: twoBells,
  Gauss2: twoBells,
  Gauss3: twoBells,
  DanWood: ([b1, b2], x) => b1!.times(b2!.times(Math.log(x)).exp()),
  Kirby2: (b, x) => ratio(b, x, 3),
  Hahn1: (b, x) => ratio(b, x, 4),
  Thurber: (b, x) => ratio(b, x, 4),
  Nelson: ([b1, b2, b3], x1, x2) => b1!.minus(b2!.times(x1).times(b3!.times(-x2).exp())),
  MGH17: (b, x) => b[0]!.plus(decay(b[1]!, b[3]!, x)).plus(decay(b[2]!, b[4]!, x)),
  Roszman1: ([b1, b2, b3, b4], x) => b1!.minus(b2!.times(x)).minus(b3!.over(b4!.negated().plus(x)).atan().over(Math.PI)),
  ENSO(b, x) {
    const wave = (period: Dual | number, c: Dual, s: Dual) => {
      if (typeof period === 'number') return c.times(Math.cos((2 * Math.PI * x) / period)).plus(s.times(Math.sin((2 * Math.PI * x) / period)));
      const angle = period.power(-1).times(2 * Math.PI * x);
      return c.times(angle.cos()).plus(s.times(angle.sin()));
    };
    return b[0]!.plus(wave(12, b[1]!, b[2]!)).plus(wave(b[3]!, b[4]!, b[5]!)).plus(wave(b[6]!, b[7]!, b[8]!));
  },
  MGH09: ([b1, b2, b3, b4], x) => b1!.times(b2!.times(x).plus(x * x)).over(b3!.times(x).plus(b4!).plus(x * x)),
  Rat42: ([b1, b2, b3], x) => b1!.over(b2!.minus(b3!.times(x)).exp().plus(1)),
  Rat43: ([b1, b2, b3, b4], x) => b1!.over(b2!.minus(b3!.times(x)).exp().plus(1).log().over(b4!).exp()),
  MGH10: ([b1, b2, b3], x) => b1!.times(b2!.over(b3!.plus(x)).exp()),
  Eckerle4: ([b1, b2, b3], x) => b1!.over(b2!).times(b3!.minus(x).over(b2!).power(2).times(-0.5).exp()),
  Bennett5: ([b1, b2, b3], x) => b1!.times(b2!.plus(x).log().over(b3!).negated().exp()),
};

export function fitStrd(problem: StrdProblem, start: readonly number[] | null): LeastSquaresFit {
  const { x, y } = problem;
  if (problem.kind === 'linear') {
    if (problem.powers !== undefined) return fitPolynomial(x as readonly number[], y, problem.powers);
    return fitLinear((x as readonly (readonly number[])[]).map((row) => [1, ...row]), y);
  }
  const formula = formulas[problem.name]!;
  const model = modelFromFormula(problem.params.length, (b, i) => {
    const at = x[i]!;
    return typeof at === 'number' ? formula(b, at, NaN) : formula(b, at[0]!, at[1]!);
  });
  return fitNonlinear(model, problem.name === 'Nelson' ? y.map(Math.log) : y, { start: start! });
}
