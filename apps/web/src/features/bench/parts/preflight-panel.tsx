import { useQuery } from '@apollo/client/react';
import { useEffect, useState } from 'react';
import { Link } from 'react-router';
import type { PreflightPoint, PreflightStandingQuery } from '../../../generated/graphql.js';
import { useClockOffset } from '../../../offline/clock.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { MomentField, TextField } from '../../../ui/fields.js';
import { usePayload } from '../../../ui/send.js';
import { DoneMark } from '../../../ui/state.js';
import { localInput, momentFromInput, momentNow, useNow } from '../../../ui/time.js';
import { Action, Caution, Failed, Waiting } from '../../../ui/words.js';
import { PreflightStanding, RecordPreflight } from '../documents.js';
import styles from './bench.module.css';
import { MeterForm } from './meter-form.js';
import type { Run } from './run.js';

type Standing = PreflightStandingQuery['preflightStanding'][number];

const titles: Readonly<Record<PreflightPoint, string>> = { BALANCE: 'Balance', LAMP: 'Lamp', DARK: 'Dark', REFERENCE: 'Reference', CLOCK: 'Clock' };

/** A lamp burns through several runs of a day: what was said of it here is offered again. */
const lampKey = (rigId: string): string => `threadleaf.lamp.${rigId}`;

interface PreflightProps {
  readonly run: Run;
  readonly again: () => void;
}

/** Before the first reading: each point with how it stands and what to do; one that is skipped says why, for ever. */
export function PreflightPanel({ run, again }: PreflightProps) {
  const minute = useNow(15);
  const { offset, measure } = useClockOffset();
  const [lampSince, setLampSince] = useState(() => localStorage.getItem(lampKey(run.rig.id)) ?? '');
  const [skipping, setSkipping] = useState<Readonly<Partial<Record<PreflightPoint, string>>>>({});
  const about = { dryingRunId: run.id, lampOnSince: lampSince === '' ? null : momentFromInput(lampSince), clockOffsetMs: offset?.offsetMs ?? null };
  const { data, previousData, error, refetch } = useQuery(PreflightStanding, { variables: { input: { ...about, observedAt: momentNow(new Date(minute)) } }, fetchPolicy: 'network-only' });
  useEffect(() => void refetch(), [refetch, run.meterReadings.length, run.balance.checkStatus, run.balance.checkDueAt]);
  const points = (data ?? previousData)?.preflightStanding;
  const sayLamp = (text: string) => {
    localStorage.setItem(lampKey(run.rig.id), text);
    setLampSince(text);
  };
  if (!points) return error ? <Failed what="what to look at first" again={() => void refetch()} /> : <Waiting what="what to look at first" />;
  const next = points.find(({ point, met }) => !met && (point === 'DARK' || point === 'REFERENCE') && skipping[point] === undefined)?.point;
  return (
    <div className={styles.panel}>
      <ol className={styles.points} aria-label="Points of the pre-flight">
        {points.map((standing) => (
          <Point key={standing.point} standing={standing} reason={skipping[standing.point]} onReason={(reason) => setSkipping((before) => withReason(before, standing.point, reason))}>
            {standing.point === 'BALANCE' && !standing.met ? <Link to={`/instruments/${run.balance.id}`}>Record a check of {run.balance.label}</Link> : null}
            {standing.point === 'LAMP' ? <Lamp value={lampSince} onChange={sayLamp} /> : null}
            {standing.point === 'CLOCK' && !standing.met ? <Action kind="plain" onClick={() => void measure()}>Measure again</Action> : null}
          </Point>
        ))}
      </ol>
      {next ? (
        <div className={styles.taking}>
          <h3>{next === 'DARK' ? 'Dark: shut the light' : 'Reference: diffuser in the beam'}</h3>
          <MeterForm key={next} run={run} kind={next === 'DARK' ? 'dark' : 'reference'} disc={null} onTyping={() => undefined} onRecorded={again} />
          <Caution title="Lamp.">It is hot and most of its light cannot be seen: do not look into the beam.</Caution>
        </div>
      ) : <Start run={run} points={points} skipping={skipping} about={about} roundTripMs={offset?.roundTripMs ?? null} again={again} />}
    </div>
  );
}

type Skipping = Readonly<Partial<Record<PreflightPoint, string>>>;

function withReason(before: Skipping, point: PreflightPoint, reason: string | null): Skipping {
  const { [point]: _left, ...others } = before;
  return reason === null ? others : { ...others, [point]: reason };
}

interface PointProps {
  readonly standing: Standing;
  /** Undefined: not skipped. */
  readonly reason: string | undefined;
  readonly onReason: (reason: string | null) => void;
  readonly children: React.ReactNode;
}

function Point({ standing: { point, met, told, remedy, skippable }, reason, onReason, children }: PointProps) {
  const skipped = !met && reason !== undefined;
  return (
    <li className={styles.point} data-met={met || undefined}>
      <div>
        <div className={styles.pointHead}><strong>{titles[point]}</strong> <DoneMark done={met} word={met ? 'as it should be' : skipped ? 'skipped' : 'open'} /></div>
        <p>{told} {skipped ? null : remedy}</p>
      </div>
      <div className={styles.pointActions}>
        {skipped ? null : children}
        {met || !skippable || skipped ? null : <button type="button" onClick={() => onReason('')}>Skip {titles[point].toLowerCase()} and say why</button>}
      </div>
      {skipped ? (
        <div className={styles.skipping}>
          <TextField name={`skip${point}`} label={`Why ${titles[point].toLowerCase()} is skipped`} hint="Kept with the run, and shown in its Thread" value={reason} onChange={onReason} problem={null} autoFocus />
          <Action kind="plain" onClick={() => onReason(null)}>Do it after all</Action>
        </div>
      ) : null}
    </li>
  );
}

function Lamp({ value, onChange }: { readonly value: string; readonly onChange: (text: string) => void }) {
  return (
    <div className={styles.lamp}>
      <MomentField name="lampOnSince" label="Lamp on since" value={value} onChange={onChange} problem={null} />
      <Action kind="plain" onClick={() => onChange(localInput(new Date()))}>Switched on now</Action>
    </div>
  );
}

interface StartProps extends PreflightProps {
  readonly points: readonly Standing[];
  readonly skipping: Skipping;
  readonly about: { readonly dryingRunId: string; readonly lampOnSince: string | null; readonly clockOffsetMs: number | null };
  readonly roundTripMs: number | null;
}

const none = {};

function Start({ points, skipping, about, roundTripMs, again }: StartProps) {
  const send = usePayload();
  const reasons = points.flatMap(({ point, met }) => (met || skipping[point] === undefined ? [] : [{ point, reason: skipping[point] }]));
  const open = points.filter(({ point, met }) => !met && !skipping[point]?.trim());
  const entry = useEntry({
    initial: none,
    keep: true,
    send: (_values, id, at) => send(RecordPreflight, { input: { id, ...about, observedAt: at, clockRoundTripMs: roundTripMs, skipped: reasons } }),
    onRecorded: again,
  });
  return (
    <EntryForm entry={entry} action="Start the rhythm" label="Pre-flight" disabled={open.length > 0}
      beside={open.length > 0 ? <span>Open: {open.map(({ point }) => titles[point].toLowerCase()).join(', ')}.</span> : null}>{null}</EntryForm>
  );
}
