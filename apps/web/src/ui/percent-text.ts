import { decimalText } from './entry.js';

/** "80" typed under a label in per cent, as the fraction 0.8 the contract wants; NaN where it is no number. The division is rounded to fourteen digits, so that 80.1 gives 0.801 and no tail. */
export function fractionOfPercent(text: string): number {
  const typed = decimalText(text);
  return typed === '' ? Number.NaN : Number((Number(typed) / 100).toPrecision(14));
}

/** The same as exact decimal text: "10" gives "0.1". Text that is no number goes on as it is, for the server to name. */
export function fractionTextOfPercent(text: string): string {
  const fraction = fractionOfPercent(text);
  return Number.isFinite(fraction) ? String(fraction) : decimalText(text);
}
