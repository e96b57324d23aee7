import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { interceptTerm, type MixedModelInput, type ModelTerm, type RandomLevel } from '#libs/regression';

type Column = readonly (number | string)[];

/** One fit by the reference programs, as make-fixtures.R writes it. */
export interface ReferenceFit {
  readonly beta: number | number[];
  readonly se: number | number[];
  readonly sigma: number;
  readonly logLik: number;
  readonly aic: number;
  readonly satterthwaite?: number | number[];
  readonly varcomp: { grp: string[]; var1: (string | null)[]; var2: (string | null)[]; vcov: number[]; sdcor: number[] };
  readonly blup: { level: string[]; term: string[]; group: string[]; value: number[]; sd: number[] };
  readonly profile?: { names: string[]; lower: number[]; upper: number[] };
}

export interface Fixture {
  readonly data: Readonly<Record<string, Readonly<Record<string, Column>>>>;
  readonly fits: Readonly<Record<string, { REML: ReferenceFit; ML: ReferenceFit }>>;
  readonly nlme: Readonly<Record<string, number>>;
}

export const fixture = JSON.parse(readFileSync(join(import.meta.dirname, '../fixtures/mixed/mixed-models.json'), 'utf8')) as Fixture;

export function numbers(set: string, column: string): number[] {
  return fixture.data[set]![column]!.map(Number);
}

export function labels(set: string, column: string): string[] {
  return fixture.data[set]![column]!.map(String);
}

export function term(set: string, column: string): ModelTerm {
  return { name: column, values: numbers(set, column) };
}

/** The model of each entry of `fixture.fits`, as this library takes it. */
export function modelOf(name: string): Omit<MixedModelInput, 'method'> {
  const model = MODELS[name]!;
  const set = model.set ?? name;
  const keep = model.keep === undefined ? undefined : numbers(set, model.keep).map((value) => value === 1);
  const pick = <T>(values: readonly T[]) => (keep === undefined ? [...values] : values.filter((_, i) => keep[i]));
  const termOf = (column: string): ModelTerm => {
    if (column === '1') return interceptTerm(pick(numbers(set, model.response)).length);
    const factors = column.split('*').map((factor) => pick(numbers(set, factor)));
    return { name: column, values: factors[0]!.map((value, i) => factors.slice(1).reduce((product, other) => product * other[i]!, value)) };
  };
  return {
    response: pick(numbers(set, model.response)),
    fixed: model.fixed.map(termOf),
    levels: model.levels.map(
      ([group, terms, covariance = 'full']): RandomLevel => ({ name: group, groups: pick(labels(set, group)), terms: terms.map(termOf), covariance }),
    ),
  };
}

interface ModelText {
  readonly set?: string;
  readonly keep?: string;
  readonly response: string;
  readonly fixed: string[];
  readonly levels: [string, string[], ('full' | 'diagonal')?][];
}

const MODELS: Record<string, ModelText> = {
  rail: { response: 'travel', fixed: ['1'], levels: [['Rail', ['1']]] },
  dyestuff: { response: 'Yield', fixed: ['1'], levels: [['Batch', ['1']]] },
  dyestuff2: { response: 'Yield', fixed: ['1'], levels: [['Batch', ['1']]] },
  orthodont: { response: 'distance', fixed: ['1', 'ageC', 'female', 'ageC*female'], levels: [['Subject', ['1', 'ageC']]] },
  orthodontFemaleIntercept: { set: 'orthodont', keep: 'female', response: 'distance', fixed: ['1', 'age'], levels: [['Subject', ['1']]] },
  orthodontFemaleSlope: { set: 'orthodont', keep: 'female', response: 'distance', fixed: ['1', 'ageC'], levels: [['Subject', ['1', 'ageC']]] },
  sleepstudy: { response: 'Reaction', fixed: ['1', 'Days'], levels: [['Subject', ['1', 'Days']]] },
  sleepstudyUncorrelated: { set: 'sleepstudy', response: 'Reaction', fixed: ['1', 'Days'], levels: [['Subject', ['1', 'Days'], 'diagonal']] },
  pastes: { response: 'strength', fixed: ['1'], levels: [['batch', ['1']], ['cask', ['1']]] },
  leaves: { response: 'lnT', fixed: ['1', 'rwc'], levels: [['leaf', ['1', 'rwc']]] },
  nested: { response: 'lnT', fixed: ['1', 'rwc'], levels: [['plant', ['1']], ['leaf', ['1']], ['disc', ['1']]] },
  nestedSlope: { set: 'nested', response: 'lnT', fixed: ['1', 'rwc'], levels: [['plant', ['1', 'rwc']], ['leaf', ['1']]] },
  edge: { response: 'lnT', fixed: ['1', 'rwc'], levels: [['leaf', ['1', 'rwc']]] },
};

export const MODEL_NAMES = Object.keys(MODELS);

/** How many digits agree: −log10 of the relative difference, 16 at most. */
export function digits(got: number, expected: number): number {
  if (got === expected) return 16;
  const difference = Math.abs(got - expected) / Math.abs(expected === 0 ? 1 : expected);
  return Number.isFinite(difference) ? Math.min(16, -Math.log10(difference)) : -Infinity;
}

/** The fixture writes a vector of one as a bare number. */
export function vector(value: number | readonly number[]): readonly number[] {
  return typeof value === 'number' ? [value] : value;
}
