interface MovedValue {
  readonly name: string;
  /** UCUM; 1 for fractions and numbers. */
  readonly unit: string;
  readonly then?: number | null | undefined;
  readonly without?: number | null | undefined;
  readonly corrected?: number | null | undefined;
}

/** So little is rounding. */
const SAME = 1e-9;

/** RWC is a fraction in the contract and per cent on the screen; its moves are percentage points. */
const isPercent = ({ name }: MovedValue): boolean => name.includes('RWC');

/** Whether the correction, or leaving the facts out, changes the number at all. */
export function hasMoved({ then, without, corrected }: MovedValue): boolean {
  return [without, corrected].some((now) => typeof then === 'number' && typeof now === 'number' && Math.abs(now - then) > SAME * Math.max(1, Math.abs(then)));
}

export function valueText(value: MovedValue, number: number | null | undefined): string {
  if (number === null || number === undefined) return 'none';
  return isPercent(value) ? `${(number * 100).toFixed(2)} %` : `${Number(number.toPrecision(6))}${value.unit === '1' ? '' : ` ${value.unit}`}`;
}

/** "−0.69 points", "+0.03 V", "no move". */
export function moveText(value: MovedValue, move: number): string {
  if (Math.abs(move) <= SAME * Math.max(1, Math.abs(value.then ?? 0))) return 'does not move';
  const size = isPercent(value) ? `${Math.abs(move * 100).toFixed(2)} points` : `${Number(Math.abs(move).toPrecision(3))}${value.unit === '1' ? '' : ` ${value.unit}`}`;
  return `${move < 0 ? '−' : '+'}${size}`;
}
