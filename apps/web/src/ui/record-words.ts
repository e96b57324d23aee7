import type { AmendmentReason, DiscState, EntryMode } from '../generated/graphql.js';
import type { Choice } from './fields.js';

const states: Readonly<Record<DiscState, string>> = { TURGID: 'turgid', FRESH: 'fresh', DRYING: 'drying', DRY: 'dry' };
export const discStateWord = (state: DiscState): string => states[state];

const capital = (word: string): string => word.charAt(0).toUpperCase() + word.slice(1);
export const discStateChoices: readonly Choice[] = Object.entries(states).map(([value, word]) => ({ value, label: capital(word) }));

const modes: Readonly<Record<EntryMode, string>> = {
  LINE: 'line of the instrument', TYPED: 'typed by hand', IMPORTED: 'row of a file', SIMULATED: 'invented by the simulator',
};
export const entryModeWord = (mode: EntryMode): string => modes[mode];

const reasons: Readonly<Record<AmendmentReason, string>> = {
  MISREAD: 'misread', WRONG_DISC: 'wrong disc', WRONG_INSTRUMENT: 'wrong instrument', WRONG_TIME: 'wrong time',
  INSTRUMENT_FAULT: 'fault of the instrument', DUPLICATE: 'recorded twice', OTHER: 'another reason',
};
export const amendmentReasonWord = (reason: AmendmentReason): string => reasons[reason];
export const amendmentReasonChoices: readonly Choice[] = Object.entries(reasons).map(([value, word]) => ({ value, label: capital(word) }));

export const massUnits: readonly Choice[] = [{ value: 'mg', label: 'mg' }, { value: 'g', label: 'g' }, { value: 'ug', label: 'µg' }];
export const powerUnits: readonly Choice[] = [{ value: 'nW', label: 'nW' }, { value: 'uW', label: 'µW' }, { value: 'mW', label: 'mW' }];
