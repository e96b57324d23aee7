import { useState } from 'react';
import type { RetirementCause, Switching } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, MomentField, NumberField, SegmentField, TextField } from '../../../ui/fields.js';
import { usePayload } from '../../../ui/send.js';
import { localInput, momentFromInput } from '../../../ui/time.js';
import { RecordChoppedRun, RecordCycleCount, RecordResetPulse, RecordTemperatureRun, RetireDeviceUnit } from '../documents.js';
import { Folded } from './folded.js';
import { readTwoColumns } from './two-columns.js';

interface EntryProps {
  readonly unitId: string;
  readonly onRecorded: () => void;
}

const now = (): string => localInput(new Date());
const optionalDecimal = (text: string): string | null => (text.trim() === '' ? null : decimalText(text));

/** Powers as typed or pasted: one an opening; "none" or a dash where it did not trip. */
export function readPowers(text: string): { readonly powers: readonly (number | null)[]; readonly wrong: readonly string[] } {
  const cells = text.split(/[\s;]+/).filter((cell) => cell !== '');
  const read = cells.map((cell) => (/^(none|-|–)$/i.test(cell) ? null : Number(cell.replace(',', '.'))));
  return { powers: read.map((power) => (Number.isNaN(power) ? null : power)), wrong: cells.filter((_, i) => Number.isNaN(read[i])) };
}

export function ChoppedEntry({ unitId, onRecorded }: EntryProps) {
  const send = usePayload();
  const [initial] = useState(() => ({ biasV: '', chopHz: '', powers: '', note: '', observedAt: now() }));
  const entry = useEntry({
    initial,
    send: ({ biasV, chopHz, powers, note, observedAt }, id) => send(RecordChoppedRun, {
      input: { id, deviceUnitId: unitId, observedAt: momentFromInput(observedAt), biasV: decimalText(biasV), chopHz: decimalText(chopHz), tripPowersNw: [...readPowers(powers).powers], note: orNull(note) },
    }),
    onRecorded,
  });
  const { powers, wrong } = readPowers(entry.values.powers);
  return (
    <Folded title="Record a chopped run">
      <EntryForm entry={entry} action="Record run" disabled={powers.length < 2 || wrong.length > 0}>
        <NumberField {...entry.field('biasV')} label="Bias, V" />
        <NumberField {...entry.field('chopHz')} label="Openings a second, Hz" />
        <MomentField {...entry.field('observedAt')} label="Run at" />
        <AreaField {...entry.field('powers')} label="Power at each trip, nW" raw rows={4} hint={wrong.length > 0 ? `Not a number: ${wrong.slice(0, 5).join(', ')}` : 'One an opening, in order; write none where it did not trip.'} />
        <TextField {...entry.field('note')} label="Note" optional wide />
      </EntryForm>
    </Folded>
  );
}

export function TemperatureEntry({ unitId, onRecorded }: EntryProps) {
  const send = usePayload();
  const [initial] = useState(() => ({ biasV: '', steps: '', note: '', observedAt: now() }));
  const entry = useEntry({
    initial,
    send: ({ biasV, steps, note, observedAt }, id) => send(RecordTemperatureRun, {
      input: { id, deviceUnitId: unitId, observedAt: momentFromInput(observedAt), biasV: decimalText(biasV), steps: readTwoColumns(steps).pairs.map(([t, p]) => [t, p]), note: orNull(note) },
    }),
    onRecorded,
  });
  const { pairs, wrong } = readTwoColumns(entry.values.steps);
  return (
    <Folded title="Record a temperature run">
      <EntryForm entry={entry} action="Record run" disabled={pairs.length < 3 || wrong.length > 0}>
        <NumberField {...entry.field('biasV')} label="Bias, V" />
        <MomentField {...entry.field('observedAt')} label="Run at" />
        <AreaField {...entry.field('steps')} label="Temperature in °C and trip power in nW" raw rows={4} hint={wrong.length > 0 ? `Line ${wrong[0]!.line} is not two numbers.` : 'Two columns, one step a line, at three temperatures or more.'} />
        <TextField {...entry.field('note')} label="Note" optional wide />
      </EntryForm>
    </Folded>
  );
}

const outcomes = [{ value: 'yes', label: 'Released' }, { value: 'no', label: 'Did not release' }];

export function ResetEntry({ unitId, onRecorded }: EntryProps) {
  const send = usePayload();
  const [initial] = useState(() => ({ pulseV: '', pulseMs: '', succeeded: 'yes', note: '', observedAt: now() }));
  const entry = useEntry({
    initial,
    send: ({ pulseV, pulseMs, succeeded, note, observedAt }, id) => send(RecordResetPulse, {
      input: { id, deviceUnitId: unitId, observedAt: momentFromInput(observedAt), pulseV: decimalText(pulseV), pulseMs: decimalText(pulseMs), succeeded: succeeded === 'yes', note: orNull(note) },
    }),
    onRecorded,
  });
  return (
    <Folded title="Record a reset pulse">
      <EntryForm entry={entry} action="Record pulse">
        <NumberField {...entry.field('pulseV')} label="Pulse, V" />
        <NumberField {...entry.field('pulseMs')} label="Length, ms" />
        <SegmentField {...entry.field('succeeded')} label="The contact" choices={outcomes} />
        <MomentField {...entry.field('observedAt')} label="Pulsed at" />
        <TextField {...entry.field('note')} label="Note" optional wide />
      </EntryForm>
    </Folded>
  );
}

const switchings = [{ value: 'COLD', label: 'Cold, without current' }, { value: 'HOT', label: 'Hot, under current' }];

export function CycleEntry({ unitId, onRecorded }: EntryProps) {
  const send = usePayload();
  const [initial] = useState(() => ({ cycles: '', switching: 'COLD', pullInV: '', contactResistanceOhm: '', note: '', observedAt: now() }));
  const entry = useEntry({
    initial,
    send: ({ cycles, switching, pullInV, contactResistanceOhm, note, observedAt }, id) => send(RecordCycleCount, {
      input: {
        id, deviceUnitId: unitId, observedAt: momentFromInput(observedAt), cycles: /^\d+$/.test(cycles.trim()) ? Number(cycles) : -1, switching: switching as Switching,
        pullInV: optionalDecimal(pullInV), contactResistanceOhm: optionalDecimal(contactResistanceOhm), note: orNull(note),
      },
    }),
    onRecorded,
  });
  return (
    <Folded title="Record a count of cycles">
      <EntryForm entry={entry} action="Record cycles">
        <NumberField {...entry.field('cycles')} label="Cycles so far" hint="Since it was made" />
        <MomentField {...entry.field('observedAt')} label="Counted at" />
        <SegmentField {...entry.field('switching')} label="Switched" choices={switchings} wide />
        <NumberField {...entry.field('pullInV')} label="Pull-in then, V" optional />
        <NumberField {...entry.field('contactResistanceOhm')} label="Closed contact then, Ω" optional />
        <TextField {...entry.field('note')} label="Note" optional wide />
      </EntryForm>
    </Folded>
  );
}

const causeWords: Readonly<Record<RetirementCause, string>> = {
  RESET_FAILS: 'it no longer resets', DRIFTED: 'it drifted', WORN: 'its contact is worn', DAMAGED: 'it is damaged', LOST: 'it is lost', END_OF_USE: 'end of its use',
};
export const retirementWord = (cause: RetirementCause): string => causeWords[cause];
const causeChoices = Object.entries(causeWords).map(([value, word]) => ({ value, label: word.charAt(0).toUpperCase() + word.slice(1) }));

/** Takes the unit out of service: its certificates end with it. */
export function RetireEntry({ unitId, onRecorded }: EntryProps) {
  const send = usePayload();
  const [initial] = useState(() => ({ cause: 'DAMAGED', reason: '', observedAt: now() }));
  const entry = useEntry({
    initial,
    send: ({ cause, reason, observedAt }, id) => send(RetireDeviceUnit, { input: { id, deviceUnitId: unitId, observedAt: momentFromInput(observedAt), cause: cause as RetirementCause, reason: reason.trim() } }),
    onRecorded,
  });
  return (
    <Folded title="Retire this unit">
      <p>It stays on record; its certificates end, and nothing can be certified or installed with it any more.</p>
      <EntryForm entry={entry} action="Retire unit">
        <ChoiceField {...entry.field('cause')} label="Why" choices={causeChoices} />
        <MomentField {...entry.field('observedAt')} label="Out of service since" />
        <TextField {...entry.field('reason')} label="What happened" wide />
      </EntryForm>
    </Folded>
  );
}
