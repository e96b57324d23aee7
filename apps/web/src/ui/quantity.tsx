import { formatByUncertainty, formatNumber, formatPercent, formatPercentPlain } from '#libs/quantity';
import styles from './quantity.module.css';

const standard = 'The ± is a standard uncertainty (k = 1).';

/** Relative water content: per cent on the screen only, rounded by its standard uncertainty. */
export function Rwc({ value, u }: { readonly value: number; readonly u?: number | null }) {
  if (u === null || u === undefined) return <span className={styles.quantity}>{formatPercentPlain(value, 1)}</span>;
  return <span className={styles.quantity} title={standard}>{formatPercent(value, u)}</span>;
}

/** A value with its standard uncertainty and unit, rounded together. */
export function Uncertain({ value, u, unit }: { readonly value: number; readonly u: number; readonly unit: string }) {
  return <span className={styles.quantity} title={standard}>{formatByUncertainty(value, u)}{unit ? ` ${unit}` : ''}</span>;
}

/** A computed number without an uncertainty of its own, to so many places. */
export function Plain({ value, unit, places = 3 }: { readonly value: number; readonly unit?: string; readonly places?: number }) {
  return <span className={styles.quantity}>{formatNumber(value, places)}{unit ? ` ${unit}` : ''}</span>;
}

/** The codes of UCUM as the trade writes them. */
const written: Readonly<Record<string, string>> = { ug: 'µg', uW: 'µW', Cel: '°C', '1': '', um: 'µm' };
export const unitText = (code: string): string => written[code] ?? code;

/** A number as it was entered, with its unit; the exact decimal in the base unit on hover where the two differ. */
export function AsEntered({ text, unit, exact, exactUnit }: { readonly text: string; readonly unit: string; readonly exact?: string; readonly exactUnit?: string }) {
  const title = exact !== undefined && unit !== exactUnit ? `${exact} ${unitText(exactUnit ?? '')}` : undefined;
  return <span className={styles.quantity} title={title}>{text} {unitText(unit)}</span>;
}

/** "69.9 % to 83.1 %", an interval of RWC. */
export const rwcInterval = (low: number, high: number): string => `${formatPercentPlain(low, 1)} to ${formatPercentPlain(high, 1)}`;
