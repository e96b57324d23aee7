import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link, useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { InstallationPageQuery, TripSource } from '../../../generated/graphql.js';
import { AsOf } from '../../../ui/as-of.js';
import { DiscChoice } from '../../../ui/disc-choice.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { MomentField, NumberField, SegmentField, TextField } from '../../../ui/fields.js';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Line, Lines, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { Rwc, rwcInterval } from '../../../ui/quantity.js';
import { ApprovalMark, InstallationMark, StaleMark } from '../../../ui/state.js';
import { localInput, Moment, momentFromInput } from '../../../ui/time.js';
import { Action, ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { FieldCheckDiscs, InstallationPage } from '../documents.js';
import { KeptHere } from './kept-here.js';
import { useOnScreen, useOutbox } from '../../../offline/outbox.js';
import { asSent } from '../../../offline/recording.js';
import { forOffline } from '../../../offline/stored-reads.js';
import { InstallationReports } from './installation-reports.js';
import { leafSideWords, NoValve, TripLine } from './field-words.js';

type Installation = NonNullable<InstallationPageQuery['installation']>;

/** One unit under a leaf: how it was set, what it told, and what checks say of it. */
export function InstallationScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(InstallationPage, { variables: { id }, context: forOffline });
  const { waiting } = useOutbox();
  const unsent = waiting.find((kept) => kept.kind === 'installation' && kept.input.id === id);
  useLive(() => refetch(), ({ kind }) => ['trip', 'decision', 'field_check', 'installation', 'signature', 'amendment'].includes(kind));
  const back = <Back to="/field">Field</Back>;
  if (!data?.installation && unsent) return <UnsentInstallation id={id} title={unsent.label} />;
  if (!data) return <Page title="Installation" margin={back}><Strip>{error ? <Failed what="this installation" again={() => void refetch()} /> : <Waiting what="the installation" />}</Strip></Page>;
  if (!data.installation) return <Page title="Installation" margin={back}><Strip><Empty title="No installation of this lab has this address." /></Strip></Page>;
  return <OneInstallation installation={data.installation} again={() => void refetch()} />;
}

/** Installed without the server: what happens to it meanwhile is kept behind it in the queue. */
function UnsentInstallation({ id, title }: { readonly id: string; readonly title: string }) {
  return (
    <Page title={title} margin={<Back to="/field">Field</Back>} lead="The server does not know of it yet.">
      <KeptHere of={id} />
      <Section title="Record a trip" lead={<NoValve />}><TripEntry installationId={id} unit="" onRecorded={() => undefined} /></Section>
      <InstallationReports id={id} unit="" mayRecord ended={false} />
    </Page>
  );
}

const place = ({ latitude, longitude }: Installation): string => (latitude && longitude ? `${latitude}, ${longitude}` : 'not told');

function OneInstallation({ installation, again }: { readonly installation: Installation; readonly again: () => void }) {
  const { id, certificate, deviceUnit: unit } = installation;
  const mayRecord = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  const mayCheck = useHasRole('TECHNICIAN', 'FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  return (
    <Page title={`Unit ${unit.label} in zone ${installation.zone}`} margin={<><Back to="/field">Field</Back><br /><InstallationMark state={installation.state} /></>} lead={<>{installation.site}, {installation.plantNote}. Armed <Moment at={installation.armedAt} />.</>}
      actions={<><ActionLink to={threadPath('installation', id)}>Follow the thread</ActionLink><ActionLink to={threadPath('installation', id, 'up')}>What rests on it</ActionLink></>}>
      <AsOf document={InstallationPage} variables={{ id }} />
      <KeptHere of={id} />
      {installation.overrideReason ? <Strip><Notice tone="ask" title="It was installed against an objection.">“{installation.overrideReason}”</Notice></Strip> : null}
      {mayRecord && installation.state !== 'REMOVED' ? <Section title="Record a trip" lead={<NoValve />}><TripEntry installationId={id} unit={unit.label} onRecorded={again} /></Section> : null}
      <Section title="Trips">
        {installation.trips.length === 0 ? <Empty title="It has not tripped."><p>Silence is not a reading: look now and then whether its bias still stands.</p></Empty> : <Lines label="Trips of this installation">{installation.trips.map((trip) => <TripLine key={trip.id} trip={trip} withPlace={false} />)}</Lines>}
      </Section>
      <InstallationReports id={id} unit={unit.label} mayRecord={mayRecord} ended={installation.state === 'REMOVED'} />
      <Section title="How it was set">
        <Facts rows={[
          { name: 'Unit', value: <Link to={`/devices/${unit.id}`}>{unit.label}</Link> },
          { name: 'Certificate', value: <><Link to={`/devices/certificate/${certificate.id}`}>{certificate.biasV} V for <Rwc value={certificate.targetRwc} /></Link><br /><ApprovalMark state={certificate.state} />{certificate.stale ? <><br /><StaleMark /></> : null}</> },
          { name: 'Bias read back', value: `${installation.biasReadbackV} V` },
          { name: 'Trips at RWC, 95 %', value: rwcInterval(certificate.tripRwcLow, certificate.tripRwcHigh) },
          { name: 'Leaf', value: leafSideWords[installation.leafSide] },
          { name: 'Tilt', value: installation.tiltDeg ? `${installation.tiltDeg}° from level` : 'not told' },
          { name: 'Latitude, longitude', value: place(installation) },
          { name: 'Recorded', value: <><Moment at={installation.recordedAt} /> by {installation.recordedBy.displayName}</> },
        ]} />
      </Section>
      <FieldChecks installation={installation} mayCheck={mayCheck} again={again} />
    </Page>
  );
}

const sources = [{ value: 'PERSON', label: 'A person saw it' }, { value: 'LOGGER', label: 'A logger told it' }];

function TripEntry({ installationId, unit, onRecorded }: { readonly installationId: string; readonly unit: string; readonly onRecorded: () => void }) {
  const outbox = useOutbox();
  const [recorded, setRecorded] = useState<{ readonly id: string; readonly kept: boolean } | null>(null);
  const [initial] = useState(() => ({ source: 'PERSON', seenAt: localInput(new Date()), trippedAt: '', lightPowerNw: '', note: '' }));
  const entry = useEntry({
    initial,
    send: async ({ source, seenAt, trippedAt, lightPowerNw, note }, id) => asSent(await outbox.record({
      kind: 'trip',
      input: { id, installationId, source: source as TripSource, seenAt: momentFromInput(seenAt), trippedAt: trippedAt === '' ? null : momentFromInput(trippedAt), lightPowerNw: orNull(decimalText(lightPowerNw)), note: orNull(note) },
    }, `Trip ${unit ? `of ${unit} ` : ''}seen`)),
    onRecorded: ({ kept }) => {
      setRecorded({ id: entry.id, kept });
      onRecorded();
    },
  });
  useOnScreen(entry.id);
  return (
    <>
      {recorded && !recorded.kept ? <Notice tone="calm" title="The trip is recorded."><Link to={`/field/decide?trip=${recorded.id}`}>Record what was decided</Link></Notice> : null}
      {recorded?.kept ? <Notice tone="calm" title="The trip is kept on this device, not sent yet.">What is decided on it is recorded when the server has it.</Notice> : null}
      <EntryForm entry={entry} action="Record trip">
        <SegmentField {...entry.field('source')} label="How it is known" choices={sources} />
        <MomentField {...entry.field('seenAt')} label="Seen at" />
        <MomentField {...entry.field('trippedAt')} label="Tripped at" hint="Where it is known" optional />
        <NumberField {...entry.field('lightPowerNw')} label="Light then, nW in the band" hint="Without it no RWC can be inferred" optional />
        <TextField {...entry.field('note')} label="Note" optional wide />
      </EntryForm>
    </>
  );
}

function FieldChecks({ installation, mayCheck, again }: { readonly installation: Installation; readonly mayCheck: boolean; readonly again: () => void }) {
  const [recording, setRecording] = useState(false);
  return (
    <Section title="Field checks" lead="Discs taken here and weighed on the Bench tell whether the certificate was right." actions={mayCheck && !recording ? <Action kind="plain" onClick={() => setRecording(true)}>Record a field check</Action> : null}>
      {recording ? <FieldCheckEntry installationId={installation.id} onDone={() => { setRecording(false); again(); }} /> : null}
      {installation.fieldChecks.length === 0 && !recording ? <Empty title="No field check yet." /> : null}
      {installation.fieldChecks.length > 0 ? (
        <Lines label="Field checks">
          {installation.fieldChecks.map((check) => (
            <Line key={check.id} margin={<Moment at={check.observedAt} />}>
              <span>{check.recordedBy.displayName}, discs {check.discs.map((disc, index) => <span key={disc.id}>{index > 0 ? ', ' : ''}<Link to={`/samples/disc/${disc.id}`}>{disc.label}</Link></span>)}</span>
              {check.note ? <span>“{check.note}”</span> : null}
            </Line>
          ))}
        </Lines>
      ) : null}
    </Section>
  );
}

const none: readonly never[] = [];

function FieldCheckEntry({ installationId, onDone }: { readonly installationId: string; readonly onDone: () => void }) {
  const outbox = useOutbox();
  const [search, setSearch] = useState('');
  const { data } = useQuery(FieldCheckDiscs, { variables: { search: search.trim() || null }, context: forOffline });
  const [initial] = useState(() => ({ observedAt: localInput(new Date()), discIds: [] as readonly string[], note: '' }));
  const entry = useEntry({
    initial,
    send: async ({ observedAt, discIds, note }, id) => asSent(await outbox.record({ kind: 'fieldCheck', input: { id, installationId, observedAt: momentFromInput(observedAt), discIds: [...discIds], note: orNull(note) } }, `Field check, ${discIds.length} discs`)),
    onRecorded: onDone,
  });
  useOnScreen(entry.id);
  return (
    <EntryForm entry={entry} action="Record field check" onCancel={onDone} disabled={entry.values.discIds.length === 0}>
      <MomentField {...entry.field('observedAt')} label="Discs taken at" />
      <TextField {...entry.field('note')} label="Note" optional />
      <DiscChoice binding={entry.field('discIds')} label="Discs taken" offered={data?.discs.nodes ?? none} totalCount={data?.discs.totalCount ?? 0} search={search} onSearch={setSearch} empty={<Empty title="No disc fits."><Link to="/samples">Record the discs under Samples</Link></Empty>} />
    </EntryForm>
  );
}
