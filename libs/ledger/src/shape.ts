import { InputError } from '#libs/quantity';

/** What a member must look like: the test, and the words for the error. */
export type MemberRule = readonly [isGood: (value: unknown) => boolean, form: string];

/** The members that a document has, made ready by {@link shapeOf}. */
export interface Shape {
  readonly names: ReadonlySet<string>;
  readonly rules: readonly { readonly name: string; readonly optional: boolean; readonly isGood: MemberRule[0]; readonly form: string }[];
}

/** A shape from its members by name; a name that ends with `?` may be left out. */
export function shapeOf(members: Readonly<Record<string, MemberRule>>): Shape {
  const rules = Object.entries(members).map(([key, [isGood, form]]) =>
    ({ name: key.replace(/\?$/, ''), optional: key.endsWith('?'), isGood, form }));
  return { names: new Set(rules.map(({ name }) => name)), rules };
}

/**
 * Gives the value back when it is an object with exactly these members. A member too many is refused like one too
 * few: what a reader does not know it cannot vouch for.
 *
 * @param code  code of the error
 * @param place put before the member's name in the error's field
 */
export function requireShape(value: unknown, shape: Shape, code: string, place: string, remedy: string): Record<string, unknown> {
  if (value === null || typeof value !== 'object' || Array.isArray(value)) {
    throw new InputError(code, place || 'value', 'not an object', remedy);
  }
  const members = value as Record<string, unknown>;
  const fieldOf = (name: string): string => (place ? `${place}.${name}` : name);
  const stray = Object.keys(members).find((name) => !shape.names.has(name));
  if (stray !== undefined) throw new InputError(code, fieldOf(stray), 'there is no such member', remedy);
  for (const { name, optional, isGood, form } of shape.rules) {
    if (optional && !Object.hasOwn(members, name)) continue;
    if (!isGood(members[name])) throw new InputError(code, fieldOf(name), `expected ${form}`, remedy);
  }
  return members;
}

const matching = (form: RegExp) => (value: unknown): boolean => typeof value === 'string' && form.test(value);

/** A lower-case UUID of any version. */
export const UUID: MemberRule = [
  matching(/^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/), 'a lower-case UUID',
];

/** An id without white space or control characters: a line break in it could forge the look of a printed ledger. */
export const ID: MemberRule = [matching(/^[^\s\p{Cc}\p{Surrogate}]{1,200}$/u), 'an id of 1 to 200 characters without white space'];

/** One word of the glossary, such as `weighing`, `rwc_series`, `calibrationVersion`. */
export const WORD: MemberRule = [matching(/^(?=.{1,64}$)[a-z][A-Za-z0-9]*([._-][A-Za-z0-9]+)*$/), 'one word such as weighing'];

/** What one record is to another: words such as `dry mass` or `pull-in`. */
export const ROLE: MemberRule = [matching(/^(?=.{1,64}$)[a-z][A-Za-z0-9]*([ ._-][A-Za-z0-9]+)*$/), 'words such as dry mass'];

/** A SHA-256 hash. */
export const HASH_HEX: MemberRule = [matching(/^[0-9a-f]{64}$/), 'a SHA-256 hash as 64 lower-case hexadecimal digits'];

/** Text that says something. */
export const TEXT: MemberRule = [(value) => typeof value === 'string' && value.length > 0, 'a text that is not empty'];

/** A number of things, from 0. */
export const COUNT: MemberRule = [(value) => Number.isSafeInteger(value) && (value as number) >= 0, 'a whole number from 0'];

/**
 * A time by RFC 3339 with its offset, of a day that the calendar has, to the nanosecond at most. Second 60 is refused:
 * the clocks that write it here do not know leap seconds.
 */
export const MOMENT: MemberRule = [isMoment, 'a time such as 2026-04-03T09:15:00.000+02:00'];

const RFC_3339 = /^(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(?:\.\d{1,9})?(?:Z|[+-](\d\d):(\d\d))$/;

function isMoment(value: unknown): boolean {
  const form = RFC_3339.exec(typeof value === 'string' ? value : '');
  if (!form) return false;
  const [year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0, offsetHour = 0, offsetMinute = 0]
    = form.slice(1).map((part) => Number(part ?? 0));
  // Day 0 of the next month is the last day of this one.
  const monthLength = new Date(Date.UTC(year, month, 0)).getUTCDate();
  return month >= 1 && month <= 12 && day >= 1 && day <= monthLength
    && hour <= 23 && minute <= 59 && second <= 59 && offsetHour <= 23 && offsetMinute <= 59;
}
