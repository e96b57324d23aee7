import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import type { ReportsOfInstallationQuery, TripSource } from '../../../generated/graphql.js';
import { useOnScreen, useOutbox } from '../../../offline/outbox.js';
import { asSent } from '../../../offline/recording.js';
import { forOffline } from '../../../offline/stored-reads.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { MomentField, NumberField, SegmentField, TextField } from '../../../ui/fields.js';
import { useLive } from '../../../ui/live.js';
import { Line, Lines, Section } from '../../../ui/page.js';
import { localInput, Moment, momentFromInput } from '../../../ui/time.js';
import { Action, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { ReportsOfInstallation } from '../zone-documents.js';
import styles from './field.module.css';

type Heard = NonNullable<ReportsOfInstallationQuery['installation']>;

/** What is heard of a unit: its reports and resets, when it was last heard of, and its end. */
export function InstallationReports({ id, unit, mayRecord, ended }: { readonly id: string; readonly unit: string; readonly mayRecord: boolean; readonly ended: boolean }) {
  const { data, error, refetch } = useQuery(ReportsOfInstallation, { variables: { id }, context: forOffline });
  useLive(() => refetch(), ({ kind }) => ['field_report', 'latch_reset', 'installation_end', 'trip'].includes(kind));
  const [recording, setRecording] = useState<'report' | 'reset' | 'end' | null>(null);
  const heard = data?.installation;
  const done = () => {
    setRecording(null);
    void refetch();
  };
  return (
    <Section title="Heard of it" lead={heard && !heard.ended ? <>Last <Moment at={heard.heardAt} relative />. Silence is never read as wet.</> : null}
      actions={mayRecord && !ended && recording === null ? <><Action kind="plain" onClick={() => setRecording('report')}>Record how it stands</Action><Action kind="plain" onClick={() => setRecording('reset')}>Record a reset</Action><Action kind="quiet" onClick={() => setRecording('end')}>It left the leaf</Action></> : null}>
      {recording === 'report' ? <ReportEntry installationId={id} unit={unit} onDone={done} /> : null}
      {recording === 'reset' ? <ResetEntry installationId={id} unit={unit} onDone={done} /> : null}
      {recording === 'end' ? <EndEntry installationId={id} unit={unit} onDone={done} /> : null}
      {!heard ? (error ? <Failed what="what was heard of it" again={() => void refetch()} /> : <Waiting what="what was heard of it" />) : <HeardLines heard={heard} />}
    </Section>
  );
}

interface HeardLine {
  readonly id: string;
  readonly at: string;
  readonly said: string;
  readonly note: string | null | undefined;
}

const linesOf = ({ reports, resets }: Heard): HeardLine[] => [
  ...reports.map((report) => ({
    id: report.id, at: report.observedAt, note: report.note,
    said: [report.latched ? 'latched' : 'open', report.source === 'LOGGER' ? 'from a logger' : `seen by ${report.recordedBy.displayName}`, report.lightPowerNw ? `light ${report.lightPowerNw} nW` : '', report.biasReadbackV ? `bias ${report.biasReadbackV} V` : ''].filter(Boolean).join(', '),
  })),
  ...resets.map((reset) => ({ id: reset.id, at: reset.observedAt, note: reset.note, said: `reset by ${reset.recordedBy.displayName}: ${reset.opened ? 'the latch opened' : 'the latch did not open'}` })),
].sort((a, b) => Date.parse(b.at) - Date.parse(a.at));

const SHOWN = 12;

function HeardLines({ heard }: { readonly heard: Heard }) {
  const [all, setAll] = useState(false);
  const lines = linesOf(heard);
  return (
    <>
      {heard.ended ? <Notice tone="calm" title="It left the leaf."><Moment at={heard.ended.observedAt} />, {heard.ended.recordedBy.displayName}: “{heard.ended.reason}”</Notice> : null}
      {heard.plant ? <p>Plant <Link to={`/samples?search=${encodeURIComponent(heard.plant.label)}`}>{heard.plant.label}</Link></p> : null}
      {heard.photo ? <figure className={styles.photo}><img src={heard.photo.url} alt={`The leaf with the unit: ${heard.photo.name}`} /></figure> : null}
      {lines.length === 0 ? <Empty title="Nothing was reported since it was armed." /> : (
        <Lines label="Reports and resets, newest first">
          {lines.slice(0, all ? undefined : SHOWN).map((line) => <Line key={line.id} margin={<Moment at={line.at} />}><span>{line.said}</span>{line.note ? <span>“{line.note}”</span> : null}</Line>)}
        </Lines>
      )}
      {lines.length > SHOWN && !all ? <div><Action kind="quiet" onClick={() => setAll(true)}>Show all {lines.length}</Action></div> : null}
    </>
  );
}

interface FactEntryProps {
  readonly installationId: string;
  /** Its label, for the queue. */
  readonly unit: string;
  readonly onDone: () => void;
}

const latchChoices = [{ value: 'open', label: 'Open: not tripped' }, { value: 'latched', label: 'Latched: tripped' }];

function ReportEntry({ installationId, unit, onDone }: FactEntryProps) {
  const outbox = useOutbox();
  const [initial] = useState(() => ({ latched: 'open', observedAt: localInput(new Date()), lightPowerNw: '', biasReadbackV: '', note: '' }));
  const entry = useEntry({
    initial,
    send: async ({ latched, observedAt, lightPowerNw, biasReadbackV, note }, id) => asSent(await outbox.record({
      kind: 'fieldReport',
      input: { id, installationId, observedAt: momentFromInput(observedAt), latched: latched === 'latched', source: 'PERSON' as TripSource, lightPowerNw: orNull(decimalText(lightPowerNw)), biasReadbackV: orNull(decimalText(biasReadbackV)), note: orNull(note) },
    }, `Report of ${unit}: ${latched}`)),
    onRecorded: onDone,
  });
  useOnScreen(entry.id);
  return (
    <EntryForm entry={entry} action="Record how it stands" onCancel={onDone}>
      <SegmentField {...entry.field('latched')} label="The latch" choices={latchChoices} />
      <MomentField {...entry.field('observedAt')} label="Seen at" />
      <NumberField {...entry.field('lightPowerNw')} label="Light then, nW in the band" optional />
      <NumberField {...entry.field('biasReadbackV')} label="Bias read back, V" optional />
      <TextField {...entry.field('note')} label="Note" optional wide />
    </EntryForm>
  );
}

const openedChoices = [{ value: 'opened', label: 'The latch opened' }, { value: 'stuck', label: 'It did not open' }];

function ResetEntry({ installationId, unit, onDone }: FactEntryProps) {
  const outbox = useOutbox();
  const [initial] = useState(() => ({ opened: 'opened', observedAt: localInput(new Date()), note: '' }));
  const entry = useEntry({
    initial,
    send: async ({ opened, observedAt, note }, id) => asSent(await outbox.record({ kind: 'latchReset', input: { id, installationId, observedAt: momentFromInput(observedAt), opened: opened === 'opened', note: orNull(note) } }, `Reset of ${unit}`)),
    onRecorded: onDone,
  });
  useOnScreen(entry.id);
  return (
    <EntryForm entry={entry} action="Record reset" onCancel={onDone}>
      <SegmentField {...entry.field('opened')} label="After the reset pulse" choices={openedChoices} />
      <MomentField {...entry.field('observedAt')} label="Given at" />
      <TextField {...entry.field('note')} label="Note" optional wide />
    </EntryForm>
  );
}

function EndEntry({ installationId, unit, onDone }: FactEntryProps) {
  const outbox = useOutbox();
  const [initial] = useState(() => ({ reason: '', observedAt: localInput(new Date()) }));
  const entry = useEntry({
    initial,
    send: async ({ reason, observedAt }, id) => asSent(await outbox.record({ kind: 'installationEnd', input: { id, installationId, observedAt: momentFromInput(observedAt), reason: reason.trim() } }, `End of ${unit}: ${reason.trim()}`)),
    onRecorded: onDone,
  });
  useOnScreen(entry.id);
  return (
    <EntryForm entry={entry} action="Record that it left the leaf" onCancel={onDone}>
      <TextField {...entry.field('reason')} label="Why" hint="Leaf shed, unit taken in, season over" />
      <MomentField {...entry.field('observedAt')} label="At" />
    </EntryForm>
  );
}
