import { InputError, requireFinite, requirePositive } from '#libs/quantity';

/** When a zone's trips ask for water. It recommends; it never switches anything. */
export interface ZoneRule {
  /** Units that must stand tripped, k of those installed. */
  readonly needed: number;
  /** Windows in a row, the present one included, at whose end they must stand so. */
  readonly windows: number;
  /** Half width of the window around solar noon, h: a trip outside of it does not vote, because the light was not the certificate's. */
  readonly hoursAroundNoon: number;
  /** A trip older than this no longer votes, h. */
  readonly maxAgeHours: number;
  /** A unit not heard of for longer is silent, h. */
  readonly silentAfterHours: number;
  /** With fewer units heard of, too few votes mean nothing: silence is never read as wet. */
  readonly minHealthy: number;
  /** Nothing is recommended for so long after an irrigation, h. */
  readonly lockoutHours: number;
  /** Rain of at least this depth within {@link rainHoldHours} holds the recommendation back, mm. */
  readonly rainHoldMm: number;
  readonly rainHoldHours: number;
}

/**
 * Checks a rule before it is used.
 *
 * @throws InputError `NOT_A_COUNT`, `NOT_POSITIVE`, `NEGATIVE`, `OUT_OF_RANGE`, `AGE_BELOW_WINDOWS` where trips would grow
 *   too old before they have stood for all the windows
 *
 * @example
 * requireRule({ needed: 2, windows: 1, hoursAroundNoon: 1.5, maxAgeHours: 48, silentAfterHours: 6, minHealthy: 2, lockoutHours: 24, rainHoldMm: 5, rainHoldHours: 24 }).needed // => 2
 */
export function requireRule(rule: ZoneRule): ZoneRule {
  for (const name of ['needed', 'windows', 'minHealthy'] as const) {
    if (!Number.isInteger(rule[name]) || rule[name] < 1) throw new InputError('NOT_A_COUNT', name, `is ${rule[name]}`, 'Give a whole number from 1 on.');
  }
  for (const name of ['maxAgeHours', 'silentAfterHours'] as const) requirePositive(name, rule[name]);
  for (const name of ['lockoutHours', 'rainHoldHours', 'rainHoldMm'] as const) {
    if (requireFinite(name, rule[name]) < 0) throw new InputError('NEGATIVE', name, `is ${rule[name]}`, 'Give zero or more.');
  }
  if (requirePositive('hoursAroundNoon', rule.hoursAroundNoon) > 12) {
    throw new InputError('OUT_OF_RANGE', 'hoursAroundNoon', `is ${rule.hoursAroundNoon} h`, 'Give at most 12 hours: the whole day.');
  }
  if (rule.maxAgeHours < (rule.windows - 1) * 24) {
    throw new InputError('AGE_BELOW_WINDOWS', 'maxAgeHours', `is ${rule.maxAgeHours} h, less than ${rule.windows} windows take`, 'Let trips grow older, or ask for fewer windows.');
  }
  return rule;
}
