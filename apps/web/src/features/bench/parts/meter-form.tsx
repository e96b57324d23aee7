import { useState } from 'react';
import { clockOffsetMs, serverNowMs } from '../../../offline/clock.js';
import { useOnScreen, useOutbox } from '../../../offline/outbox.js';
import { asSent } from '../../../offline/recording.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { OutOfCheckField } from '../../../ui/out-of-check.js';
import { powerUnits } from '../../../ui/record-words.js';
import styles from './bench.module.css';
import { rememberedReason, rememberReason, useStandingNow } from './out-of-check.js';
import { PlacedTold, usePlacedLine } from './placed-line.js';
import { LargeNumber, rememberedUnit, rememberUnit } from './large-number.js';
import type { Told } from './large-number.js';
import type { Run } from './run.js';

interface MeterFormProps {
  readonly run: Run;
  readonly kind: 'dark' | 'reference' | 'reading';
  /** The disc in the beam; null for a dark or a reference. */
  readonly disc: Run['discs'][number] | null;
  readonly onTyping: (typing: boolean) => void;
  readonly onRecorded: (told: Told) => void;
}

const paths = { dark: 'DARK', reference: 'REFERENCE', reading: 'READING' } as const;

/** One power on the meter: light shut, through the diffuser, or through the disc. */
export function MeterForm({ run, kind, disc, onTyping, onRecorded }: MeterFormProps) {
  const outbox = useOutbox();
  const { meter } = run.rig;
  const [initial] = useState({ powerText: '', powerUnit: rememberedUnit('power', 'nW'), overrideReason: rememberedReason(run, meter.id) });
  const standing = useStandingNow(run, meter);
  const outOfCheck = standing !== 'IN_CHECK';
  const what = disc && kind === 'reading' ? `reading of ${disc.label}` : kind;
  const entry = useEntry({
    initial,
    keep: true,
    send: async ({ powerText, powerUnit, overrideReason }, id, observedAt) => asSent(await outbox.record({
      kind: 'meterReading',
      input: {
        id, lightPath: paths[kind], observedAt, powerText: powerText.trim(), powerUnit, discId: kind === 'reading' ? (disc?.id ?? null) : null,
        dryingRunId: run.id, entryMode: placed.captured.entryMode, rawLine: placed.captured.rawLine, clockOffsetMs: clockOffsetMs(), overrideReason: outOfCheck ? orNull(overrideReason) : null,
      },
    }, `${what}, ${powerText.trim()} ${powerUnit}`)),
    onRecorded: ({ kept }) => {
      if (outOfCheck) rememberReason(run, meter.id, entry.values.overrideReason);
      onRecorded({ id: entry.id, kept, what: `${what}, ${entry.values.powerText.trim()} ${entry.values.powerUnit}`, done: kind === 'reading' ? { kind, atMs: serverNowMs(), discId: disc?.id ?? '' } : { kind, atMs: serverNowMs() } });
    },
  });
  useOnScreen(entry.id);
  const label = { dark: 'Power with the light shut', reference: 'Power through the diffuser', reading: `Power through ${disc?.label ?? 'the disc'}` }[kind];
  const { powerText, powerUnit } = entry.values;
  const type = (text: string) => {
    onTyping(text !== '');
    entry.set('powerText', text);
  };
  const held = outOfCheck && (run.parameters.outOfCheck === 'REFUSE' || entry.values.overrideReason.trim() === '');
  const placed = usePlacedLine({
    instrument: meter, field: 'powerText', text: powerText, unit: powerUnit, asks: held, sending: entry.sending, submit: entry.submit,
    place: (said) => {
      entry.set('powerUnit', said.unit);
      type(said.valueText);
    },
    empty: () => type(''),
  });
  return (
    <EntryForm entry={entry} action={`Record ${kind}`} label={`Record ${what}`} disabled={powerText.trim() === '' || held}>
      <LargeNumber binding={{ ...entry.field('powerText'), onChange: type }} label={label} unit={{ ...entry.field('powerUnit'), onChange: (unit) => { rememberUnit('power', unit); entry.set('powerUnit', unit); } }} units={powerUnits} />
      <PlacedTold placed={placed} instrument={meter} />
      {outOfCheck ? <div className={styles.wide}><OutOfCheckField instrument={meter} status={standing} rule={run.parameters.outOfCheck} binding={entry.field('overrideReason')} /></div> : null}
    </EntryForm>
  );
}
