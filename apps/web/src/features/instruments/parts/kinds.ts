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

export const kindChoices: readonly Choice[] = Object.entries(kinds).map(([value, { one }]) => ({ value, label: one.charAt(0).toUpperCase() + one.slice(1) }));
