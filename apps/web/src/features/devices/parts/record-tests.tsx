import { useState } from 'react';
import type { LightCourse, SweepDirection, SweepPolarity } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, MomentField, NumberField, SegmentField, TextField } from '../../../ui/fields.js';
import { FileField } from '../../../ui/file-field.js';
import { powerUnits } from '../../../ui/record-words.js';
import { usePayload } from '../../../ui/send.js';
import { localInput, momentFromInput } from '../../../ui/time.js';
import { Notice } from '../../../ui/words.js';
import { FitBiasThresholdCurve, RecordBiasSweep, RecordTripTest } from '../documents.js';
import { readTwoColumns } from './two-columns.js';

interface EntryProps {
  readonly unitId: string;
  readonly onRecorded: () => void;
}

const decimalOrNull = (text: string): string | null => (text.trim() === '' ? null : decimalText(text));

const courses = [{ value: 'RAMPED', label: 'Raised steadily' }, { value: 'STEPPED', label: 'Raised in steps' }, { value: 'SHUTTERED', label: 'Shut between steps' }];

/** One trip test. Its line is what the instrument sent, or what was typed where none was pasted. */
export function TripTestEntry({ unitId, onRecorded }: EntryProps) {
  const send = usePayload();
  const [initial] = useState(() => ({ biasV: '', tripPowerText: '', tripPowerUnit: 'nW', observedAt: localInput(new Date()), rawLine: '', lightCourse: '', onCurrentA: '', offCurrentA: '', temperatureC: '', storedFileId: '' }));
  const entry = useEntry({
    initial,
    keep: true,
    send: ({ biasV, tripPowerText, tripPowerUnit, observedAt, rawLine, lightCourse, onCurrentA, offCurrentA, temperatureC, storedFileId }, id) => send(RecordTripTest, {
      input: { id, deviceUnitId: unitId, biasV: decimalText(biasV), tripPowerText: tripPowerText.trim(), tripPowerUnit, observedAt: momentFromInput(observedAt), rawLine: rawLine.trim() || `${biasV.trim()} V ${tripPowerText.trim()} ${tripPowerUnit}`,
        lightCourse: (lightCourse || null) as LightCourse | null, onCurrentA: decimalOrNull(onCurrentA), offCurrentA: decimalOrNull(offCurrentA), temperatureC: decimalOrNull(temperatureC), storedFileId: orNull(storedFileId) },
    }),
    onRecorded: () => {
      // The next test is as a rule made at the same bias, a moment later.
      entry.set('tripPowerText', '');
      entry.set('rawLine', '');
      entry.set('storedFileId', '');
      entry.set('observedAt', localInput(new Date()));
      onRecorded();
    },
  });
  return (
    <EntryForm entry={entry} action="Record trip test" disabled={entry.values.tripPowerText.trim() === ''}>
      <NumberField {...entry.field('biasV')} label="Bias, V" />
      <NumberField {...entry.field('tripPowerText')} label="Power at which it tripped" />
      <ChoiceField {...entry.field('tripPowerUnit')} label="Unit of power" choices={powerUnits} />
      <MomentField {...entry.field('observedAt')} label="Tripped at" />
      <TextField {...entry.field('rawLine')} label="Line of the instrument" hint="As it came, if there is one" optional wide />
      <ChoiceField {...entry.field('lightCourse')} label="The light" choices={courses} none="Not noted" />
      <NumberField {...entry.field('temperatureC')} label="Temperature, °C" optional />
      <NumberField {...entry.field('onCurrentA')} label="Current after the trip, A" optional />
      <NumberField {...entry.field('offCurrentA')} label="Current before it, A" optional />
      <FileField {...entry.field('storedFileId')} label="Record of shutter and light" purpose="INSTRUMENT_FILE" optional wide />
    </EntryForm>
  );
}

const directions = [{ value: 'UP', label: 'Raised' }, { value: 'DOWN', label: 'Lowered' }];
const polarities = [{ value: 'POSITIVE', label: 'Positive' }, { value: 'NEGATIVE', label: 'Negative' }];

/** One sweep, pasted as two columns. */
export function SweepEntry({ unitId, onRecorded }: EntryProps) {
  const send = usePayload();
  const [initial] = useState(() => ({ direction: 'UP', polarity: 'POSITIVE', observedAt: localInput(new Date()), steps: '', voltsPerS: '', temperatureC: '', storedFileId: '' }));
  const [found, setFound] = useState<{ readonly pullInV: number | null } | null>(null);
  const entry = useEntry({
    initial,
    send: ({ direction, polarity, observedAt, steps, voltsPerS, temperatureC, storedFileId }, id) => send(RecordBiasSweep, {
      input: { id, deviceUnitId: unitId, observedAt: momentFromInput(observedAt), direction: direction as SweepDirection, polarity: polarity as SweepPolarity, steps: readTwoColumns(steps).pairs.map(([biasV, currentA]) => [biasV, currentA]), voltsPerS: decimalOrNull(voltsPerS), temperatureC: decimalOrNull(temperatureC), storedFileId: orNull(storedFileId) },
    }),
    onRecorded: ({ biasSweep }) => {
      setFound({ pullInV: biasSweep?.pullInV ?? null });
      onRecorded();
    },
  });
  const { pairs, wrong } = readTwoColumns(entry.values.steps);
  return (
    <>
      {found ? <Notice tone={found.pullInV === null ? 'ask' : 'calm'} title={found.pullInV === null ? 'The sweep is recorded; no jump of the current was found.' : `The sweep is recorded: pull-in at ${found.pullInV} V.`} /> : null}
      <EntryForm entry={entry} action="Record sweep" disabled={pairs.length < 2 || wrong.length > 0}>
        <SegmentField {...entry.field('direction')} label="Bias was" choices={directions} />
        <SegmentField {...entry.field('polarity')} label="Polarity" choices={polarities} />
        <MomentField {...entry.field('observedAt')} label="Swept at" />
        <AreaField {...entry.field('steps')} label="Steps: bias in V and current in A" raw rows={6} hint="Paste two columns, one step a line, for example 0.25 and 2e-12." />
        <NumberField {...entry.field('voltsPerS')} label="Rate, V/s" optional />
        <NumberField {...entry.field('temperatureC')} label="Temperature, °C" optional />
        <FileField {...entry.field('storedFileId')} label="File of the instrument" purpose="INSTRUMENT_FILE" hint="Kept letter by letter beside the sweep" optional wide />
      </EntryForm>
      <div aria-live="polite">
        {wrong.length > 0 ? <Notice tone="alarm" title={`${wrong.length} ${wrong.length === 1 ? 'line is' : 'lines are'} not a bias and a current.`}>{wrong.slice(0, 5).map(({ line, text }) => <p key={line}>Line {line}: <code>{text}</code></p>)}<p>Mend or take out these lines: give two numbers a line.</p></Notice> : null}
        {wrong.length === 0 && pairs.length > 0 ? <p>{pairs.length} steps, {pairs[0]?.[0]} V to {pairs.at(-1)?.[0]} V.</p> : null}
      </div>
    </>
  );
}

const exponents = [
  { value: 'held', label: 'Hold it at 2/3, parallel plates' },
  { value: 'free', label: 'Fit it between 2/3 and 2' },
];
const emptyFit = { exponent: 'held' };

/** Fits the curve anew from all standing trip tests; the one before stays on record. */
export function FitCurve({ unitId, again, onRecorded }: EntryProps & { readonly again: boolean }) {
  const send = usePayload();
  const entry = useEntry({
    initial: emptyFit,
    keep: true,
    send: ({ exponent }, id) => send(FitBiasThresholdCurve, { input: { id, deviceUnitId: unitId, exponent: exponent === 'held' ? 2 / 3 : null } }),
    onRecorded,
  });
  return (
    <EntryForm entry={entry} action={again ? 'Fit the curve anew' : 'Fit the curve'} label="Fit the curve">
      <SegmentField {...entry.field('exponent')} label="Exponent n" choices={exponents} wide />
    </EntryForm>
  );
}
