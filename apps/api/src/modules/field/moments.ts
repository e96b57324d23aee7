import { InputError } from '#libs/quantity';

/** A logger's clock may run ahead a little; more is a wrong clock, and would hide that the unit is silent. Common practice, no source. */
const AHEAD_MS = 5 * 60_000;

/** @throws InputError `IN_THE_FUTURE` */
export function requireNotAhead(field: string, at: Date): void {
  if (at.getTime() > Date.now() + AHEAD_MS) throw new InputError('IN_THE_FUTURE', field, 'lies in the future', 'Set the clock of the logger, and send it with the right moment.');
}
