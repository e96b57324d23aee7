import { CsvError, parse } from 'csv-parse/sync';
import { OperatorFailure } from '../failure.js';

/** Which column is what, as the contract's DryingImportMappingInput. */
export interface Mapping {
  readonly delimiter?: string | null;
  readonly decimalComma?: boolean;
  readonly massUnit: string;
  readonly discColumn: string;
  readonly timeColumn: string;
  readonly timeUnit: string;
  readonly startAt?: string | null;
  readonly utcOffset?: string | null;
  readonly massColumn: string;
  readonly turgidMassColumn?: string | null;
  readonly dryMassColumn?: string | null;
}

/** One used before. */
export interface RememberedMapping extends Mapping {
  readonly usedAt: string;
  readonly fileName: string;
}

const NEEDED = ['discColumn', 'timeColumn', 'timeUnit', 'massColumn', 'massUnit'] as const;
const KEYS: readonly string[] = [...NEEDED, 'delimiter', 'decimalComma', 'startAt', 'utcOffset', 'turgidMassColumn', 'dryMassColumn'];
const DELIMITERS = [',', ';', '\t', '|'];

/** The parts of a mapping that were given, from a JSON file's text or `key=value` words. */
export function readMapping(json: string | undefined, settings: readonly string[]): Partial<Mapping> {
  const given: Record<string, unknown> = json === undefined ? {} : parseObject(json);
  for (const setting of settings) {
    const at = setting.indexOf('=');
    if (at < 1) throw new OperatorFailure(`--set "${setting}" has no key. Write it like massColumn=fresh_g.`);
    given[setting.slice(0, at)] = setting.slice(at + 1);
  }
  for (const [key, value] of Object.entries(given)) {
    if (!KEYS.includes(key)) throw new OperatorFailure(`The mapping has no part "${key}". It has ${KEYS.join(', ')}.`);
    given[key] = key === 'decimalComma' ? truthOf(value) : textOf(key, value);
  }
  return given;
}

function parseObject(json: string): Record<string, unknown> {
  let parsed: unknown;
  try {
    parsed = JSON.parse(json);
  } catch (error) {
    throw new OperatorFailure(`The mapping is not JSON: ${(error as Error).message}. It looks like {"discColumn": "leaf", "massColumn": "mass", "massUnit": "g"}.`);
  }
  if (typeof parsed !== 'object' || parsed === null || Array.isArray(parsed)) throw new OperatorFailure('The mapping is not a JSON object. It looks like {"discColumn": "leaf", "massColumn": "mass", "massUnit": "g"}.');
  return { ...parsed };
}

function truthOf(value: unknown): boolean {
  if (value === true || value === 'true') return true;
  if (value === false || value === 'false') return false;
  throw new OperatorFailure(`decimalComma is "${String(value)}". Write true or false.`);
}

function textOf(key: string, value: unknown): string | null {
  if (value === null) return null;
  if (typeof value !== 'string') throw new OperatorFailure(`${key} is ${JSON.stringify(value)}. Write a text.`);
  // A tab cannot be seen on a command line.
  return key === 'delimiter' && (value === 'tab' || value === '\\t') ? '\t' : value;
}

/** Whether these parts name every column that an import needs. */
export const isWhole = (given: Partial<Mapping>): given is Mapping => NEEDED.every((key) => Boolean(given[key]));

export const missingParts = (given: Partial<Mapping>): string[] => NEEDED.filter((key) => !given[key]);

/** The newest mapping used before whose columns all stand in the file's header. */
export function mappingForHeader(remembered: readonly RememberedMapping[], text: string): RememberedMapping | null {
  return remembered.find((mapping) => {
    const wanted = [...mapping.discColumn.split('+'), mapping.timeColumn, mapping.massColumn, mapping.turgidMassColumn, mapping.dryMassColumn].filter(Boolean);
    const delimiters = mapping.delimiter ? [mapping.delimiter] : DELIMITERS;
    return delimiters.some((delimiter) => {
      const columns = headerOf(text, delimiter);
      return wanted.every((column) => columns.includes(column!));
    });
  }) ?? null;
}

/** Column names by one delimiter; none where the first line cannot be read by it. */
export function headerOf(text: string, delimiter: string): string[] {
  const [first = ''] = text.replace(/^\uFEFF/, '').split(/\r\n|\n|\r/, 1);
  try {
    return (parse(first, { delimiter }) as string[][])[0]?.map((cell) => cell.trim()) ?? [];
  } catch (error) {
    if (error instanceof CsvError) return [];
    throw error;
  }
}
