import type { InstrumentKind } from '../../../generated/graphql.js';
import type { Choice } from '../../../ui/fields.js';

interface Kind {
  readonly one: string;
  readonly many: string;
  /** UCUM code that its resolution is told in. */
  readonly unit: string;
  /** What it is checked with. */
  readonly standard: string;
}

export const kinds: Readonly<Record<InstrumentKind, Kind>> = {
  BALANCE: { one: 'balance', many: 'Balances', unit: 'mg', standard: 'check weight' },
  POWER_METER: { one: 'power meter', many: 'Power meters', unit: 'nW', standard: 'reference source' },
  OVEN: { one: 'oven', many: 'Ovens', unit: 'Cel', standard: 'reference thermometer' },
  BIAS_SOURCE: { one: 'bias source', many: 'Bias sources', unit: 'V', standard: 'reference voltmeter' },
};

const capital = (word: string): string => word.charAt(0).toUpperCase() + word.slice(1);

export const kindChoices: readonly Choice[] = Object.entries(kinds).map(([value, { one }]) => ({ value, label: capital(one) }));

/** "Balance B-2"; a label that names its kind already stands alone. */
export function calledBy(kind: InstrumentKind, label: string): string {
  const { one } = kinds[kind];
  return label.toLowerCase().startsWith(one) ? label : `${capital(one)} ${label}`;
}
