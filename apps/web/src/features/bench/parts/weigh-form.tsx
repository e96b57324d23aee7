import { useQuery } from '@apollo/client/react';
import { useEffect, useRef, useState } from 'react';
import type { DiscState, WeighWouldBeInput } from '../../../generated/graphql.js';
import { clockOffsetMs, serverNowMs } from '../../../offline/clock.js';
import { useOnScreen, useOutbox } from '../../../offline/outbox.js';
import { asSent } from '../../../offline/recording.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { SegmentField, TextField } from '../../../ui/fields.js';
import { OutOfCheckField } from '../../../ui/out-of-check.js';
import { Rwc } from '../../../ui/quantity.js';
import { discStateChoices, discStateWord, massUnits } from '../../../ui/record-words.js';
import type { FlagSeen, Sent } from '../../../ui/send.js';
import { momentNow } from '../../../ui/time.js';
import { Caution, Flags, Notice } from '../../../ui/words.js';
import { WhatWouldItBe } from '../documents.js';
import styles from './bench.module.css';
import { LargeNumber, rememberedUnit, rememberUnit } from './large-number.js';
import type { Told } from './large-number.js';
import { rememberedReason, rememberReason, useStandingNow } from './out-of-check.js';
import { PlacedTold, usePlacedLine } from './placed-line.js';
import { provisionalBand } from './provisional.js';
import type { Run } from './run.js';
import { discScanned, looksLikeNumber } from './scan.js';
import { ScanStep, WrongScan } from './scan-step.js';
import { sound } from './sound.js';

interface WeighFormProps {
  readonly run: Run;
  readonly disc: Run['discs'][number];
  readonly state: DiscState;
  readonly onTyping: (typing: boolean) => void;
  readonly onRecorded: (told: Told) => void;
  readonly onOtherDisc: (discId: string) => void;
}

/** Scan, where the protocol wants it; then weigh. */
export function WeighForm(props: WeighFormProps) {
  const [scan, setScan] = useState<{ readonly text: string | null } | null>(null);
  const { run, disc, onOtherDisc, onTyping } = props;
  // With the right disc in the hand nothing that others record may take it out of it.
  const right = (text: string | null) => {
    setScan({ text });
    onTyping(true);
  };
  if (run.parameters.scanFirst && scan === null) return <ScanStep run={run} expected={disc} onRight={right} onOther={onOtherDisc} />;
  return <MassForm {...props} scannedText={scan?.text ?? null} />;
}

const refusedHere = (message: string, remedy: string) => ({ outcome: 'refused', payload: { kept: false }, problem: { code: 'INPUT', field: 'massText', message, remedy } }) as const satisfies Sent<{ kept: boolean }>;

/** One mass of one disc: what it would mean is shown before it is recorded, flags that ask are answered first. */
function MassForm({ run, disc, state, onTyping, onRecorded, onOtherDisc, scannedText }: WeighFormProps & { readonly scannedText: string | null }) {
  const outbox = useOutbox();
  const [scanned, setScanned] = useState<Run['discs'][number] | null>(null);
  const [label, setLabel] = useState(scannedText);
  const answer = useRef<HTMLDivElement>(null);
  const [asked, setAsked] = useState(false);
  const [refusedFlags, setRefusedFlags] = useState<readonly FlagSeen[]>([]);
  const [initial] = useState({ massText: '', massUnit: rememberedUnit('mass', 'mg'), state: state as string, flagAnswer: '', overrideReason: rememberedReason(run, run.balance.id) });
  const standing = useStandingNow(run, run.balance);
  const outOfCheck = standing !== 'IN_CHECK';
  const entry = useEntry({
    initial,
    keep: true,
    send: async (values, id, observedAt) => (!looksLikeNumber(values.massText) ? refusedHere(`“${values.massText.trim()}” is neither a mass nor a label of this run.`, `Expected: ${disc.label}, then its mass.`) : asSent(await outbox.record({
      kind: 'weighing',
      input: {
        id, discId: disc.id, state: values.state as DiscState, observedAt, massText: values.massText.trim(), massUnit: values.massUnit, balanceId: run.balance.id,
        dryingRunId: run.id, ovenCycleId: null, ...placed.captured, flagAnswer: values.flagAnswer.trim() || null,
        clockOffsetMs: clockOffsetMs(), scannedText: label, overrideReason: outOfCheck ? orNull(values.overrideReason) : null,
      },
    }, `${disc.label}, ${discStateWord(values.state as DiscState)}, ${values.massText.trim()} ${values.massUnit}`))),
    onRecorded: ({ kept }) => {
      if (outOfCheck) rememberReason(run, run.balance.id, entry.values.overrideReason);
      onRecorded({ id: entry.id, kept, what: `${disc.label}, ${discStateWord(entry.values.state as DiscState)}, ${entry.values.massText.trim()} ${entry.values.massUnit}`, done: { kind: 'weighing', atMs: serverNowMs(), discId: disc.id, state: entry.values.state as DiscState } });
    },
    onRefused: (_problem, payload) => {
      setRefusedFlags(payload?.flags ?? []);
      setAsked(true);
    },
  });
  useOnScreen(entry.id);
  const { massText, massUnit } = entry.values;
  const scan = (other: Run['discs'][number] | null, text: string) => {
    setScanned(other);
    if (other?.id === disc.id) setLabel(text.trim());
    onTyping(text !== '' && !other);
    entry.set('massText', other ? '' : text);
  };
  // A scanner types like a keyboard: a label of this run in the number field is a scan, never a mass. A label that is a number is one only where a scanner gave it.
  const type = (text: string) => scan(looksLikeNumber(text) ? null : discScanned(run.discs, text), text);
  // Nothing is recorded by a balance that the protocol does not take, or without the reason that it asks for.
  const held = outOfCheck && (run.parameters.outOfCheck === 'REFUSE' || entry.values.overrideReason.trim() === '');
  const placed = usePlacedLine({
    instrument: run.balance, field: 'massText', text: massText, unit: massUnit, asks: refusedFlags.length > 0 || held, sending: entry.sending, submit: entry.submit,
    place: (said) => {
      setRefusedFlags([]);
      entry.set('massText', said.valueText);
      entry.set('massUnit', said.unit);
      onTyping(true);
    },
    empty: () => type(''),
    onOther: (text) => {
      const other = discScanned(run.discs, text);
      if (other) scan(other, text);
      return other !== null;
    },
  });
  const wouldBe = useWouldBe({ discId: disc.id, state: entry.values.state as DiscState, massText: massText.trim(), massUnit, balanceId: run.balance.id, dryingRunId: run.id, rawLine: placed.captured.rawLine, stable: placed.captured.stable });
  const flags = wouldBe.data?.flags ?? refusedFlags;
  const asks = flags.some(({ severity }) => severity === 'ASK') || refusedFlags.length > 0;

  // The hand is on the keyboard: after a refusal the next key belongs to the answer.
  useEffect(() => {
    if (asked) {
      answer.current?.querySelector('input')?.focus();
      sound('asks');
    }
    setAsked(false);
  }, [asked]);


  return (
    <EntryForm entry={entry} action="Record weighing" label={`Record weighing of ${disc.label}`} disabled={massText.trim() === '' || held}>
      <div className={styles.wide}>
        <SegmentField {...entry.field('state')} label="State of the disc" choices={discStateChoices} />
      </div>
      <LargeNumber binding={{ ...entry.field('massText'), onChange: type }} label={`Mass of ${disc.label}`} unit={{ ...entry.field('massUnit'), onChange: (unit) => { rememberUnit('mass', unit); entry.set('massUnit', unit); } }} units={massUnits} />
      <div className={styles.meaning} aria-live="polite">{massText.trim() === '' ? null : <Meaning wouldBe={wouldBe} state={entry.values.state as DiscState} />}</div>
      <PlacedTold placed={placed} instrument={run.balance} />
      {scanned ? <Scan scanned={scanned} expected={disc} onOther={() => onOtherDisc(scanned.id)} /> : null}
      {outOfCheck ? <div className={styles.wide}><OutOfCheckField instrument={run.balance} status={standing} rule={run.parameters.outOfCheck} binding={entry.field('overrideReason')} /></div> : null}
      {flags.length > 0 ? <div className={styles.wide}><Flags flags={flags} /></div> : null}
      {entry.values.state === 'DRY' ? <div className={styles.wide}><Caution title="Desiccator and oven.">A desiccator under vacuum can implode: look for cracks, keep it guarded or taped, let the air in slowly. What comes from the oven is hot.</Caution></div> : null}
      {asks ? <div ref={answer} className={styles.wide}><TextField {...entry.field('flagAnswer')} label="Your answer to what it asks" hint="It is kept with the weighing" /></div> : null}
    </EntryForm>
  );
}

function Scan({ scanned, expected, onOther }: { readonly scanned: Run['discs'][number]; readonly expected: Run['discs'][number]; readonly onOther: () => void }) {
  if (scanned.id === expected.id) return <div className={styles.wide}><Notice tone="calm" title={`${scanned.label}: the right disc.`}>Now its mass.</Notice></div>;
  return <div className={styles.wide}><WrongScan scanned={scanned.label} known expected={expected.label} onOther={onOther} /></div>;
}

/** Asks the server a moment after the last key what this mass would mean. */
function useWouldBe(input: Omit<WeighWouldBeInput, 'observedAt'>) {
  const [asked, setAsked] = useState<WeighWouldBeInput | null>(null);
  const key = JSON.stringify(input);
  useEffect(() => {
    const timer = setTimeout(() => {
      const settled = JSON.parse(key) as typeof input;
      setAsked(settled.massText === '' ? null : { ...settled, observedAt: momentNow() });
    }, 150);
    return () => clearTimeout(timer);
  }, [key]);
  const { data, error } = useQuery(WhatWouldItBe, { variables: { input: asked! }, skip: asked === null, fetchPolicy: 'no-cache' });
  // Never the meaning of another number than the one in the field.
  const current = asked !== null && JSON.stringify({ ...input, observedAt: asked.observedAt }) === JSON.stringify(asked);
  return { data: current ? data?.weighWouldBe : undefined, unreachable: current && error !== undefined };
}

function Meaning({ wouldBe, state }: { readonly wouldBe: ReturnType<typeof useWouldBe>; readonly state: DiscState }) {
  const { data, unreachable } = wouldBe;
  if (unreachable) return <p>No answer from the server: what this mass means cannot be told now. It can be recorded; it is kept here and looked at when it is sent.</p>;
  if (!data) return null;
  if (data.problem) return <p className={styles.stands}>{data.problem.message} {data.problem.remedy}</p>;
  if (data.rwc === null || data.rwc === undefined) {
    return <p>{state === 'DRYING' || state === 'FRESH' ? 'RWC cannot be told yet: it needs the turgid mass of this disc, and its dry mass or other discs of the crop to go by.' : `A ${discStateWord(state)} mass has no RWC of its own.`}</p>;
  }
  return (
    <>
      <p className={styles.rwc}>RWC {data.provisional ? provisionalBand(data.rwc, data.uRwc ?? 0) : <Rwc value={data.rwc} u={data.uRwc ?? null} />}</p>
      {data.provisional ? <p><strong>Provisional:</strong> its dry mass is not known yet. The band is where RWC lies, with 95 %, if its turgid to dry ratio is like that of other discs of the crop.</p> : <p>± is one standard uncertainty.</p>}
    </>
  );
}
