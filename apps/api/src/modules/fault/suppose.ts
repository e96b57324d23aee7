import { convertDecimal, InputError, parseDecimal, type Unit } from '#libs/quantity';
import type { InstrumentKind } from '../../generated/schema.js';
import type { KeptRow } from '../../platform/database/kept-row.js';
import type { MeterReading, Weighing } from '../bench/bench.entity.js';
import type { Supposition } from '../recompute/again.js';

/** What an instrument showed: span × true value + offset. The offset in mg for masses, in nW for powers. */
export interface Correction {
  readonly offset: number;
  readonly span: number;
}

type Facts = Supposition['fact'];

/** Base unit of the facts of an instrument whose showing can be corrected. An oven shows nothing that a result used. */
const BASE: Partial<Record<InstrumentKind, Unit>> = { BALANCE: 'mg', POWER_METER: 'nW' };

/**
 * @param offset in the instrument's own unit; null is 0
 * @param span   shown per true; null is 1
 * @returns null when neither is given
 * @throws InputError where a number cannot be read, where they correct nothing, or for an instrument without a showing
 */
export function readCorrection(
  instrument: { readonly kind: InstrumentKind; readonly unit: string }, offset: string | null | undefined, span: string | null | undefined,
): Correction | null {
  if (!offset && !span) return null;
  const base = BASE[instrument.kind];
  if (!base) {
    throw new InputError('NO_CORRECTION', 'offset', `is given for an instrument of kind ${instrument.kind.toLowerCase().replaceAll('_', ' ')}`, 'Leave offset and span out: such facts can only be left out.');
  }
  const shown = parseDecimal(span ?? '1', { field: 'span' });
  if (!(shown.value > 0)) throw new InputError('OUT_OF_RANGE', 'span', `is ${shown.text}`, 'Give what it showed for each unit of the true value, such as 1.002.');
  const off = parseDecimal(offset ?? '0', { field: 'offset' });
  if (off.value === 0 && shown.value === 1) throw new InputError('NO_CORRECTION', 'offset', 'corrects nothing', 'Give an offset other than 0 or a span other than 1, or leave both out.');
  return { offset: Number(convertDecimal(off.decimal, instrument.unit as Unit, base)), span: shown.value };
}

/** Without the facts named; an oven cycle takes the weighings of its discs with it. */
export const withoutFacts = (ids: ReadonlySet<string>): Facts =>
  <E extends KeptRow>(_kind: string, fact: E): E | null => {
    const { ovenCycleId } = fact as { readonly ovenCycleId?: string | null };
    return ids.has(fact.id) || (ovenCycleId && ids.has(ovenCycleId)) ? null : fact;
  };

/** With the facts named as the instrument would have shown them without its fault. */
export const withCorrection = (ids: ReadonlySet<string>, { offset, span }: Correction): Facts => {
  const corrected = (shown: string): string => String((Number(shown) - offset) / span);
  return <E extends KeptRow>(kind: string, fact: E): E => {
    if (!ids.has(fact.id)) return fact;
    if (kind === 'weighing') return { ...fact, massMg: corrected((fact as unknown as Weighing).massMg) };
    if (kind === 'meter_reading') return { ...fact, powerNw: corrected((fact as unknown as MeterReading).powerNw) };
    return fact;
  };
};
