import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { HydrationTableQuery } from '../../../generated/graphql.js';
import { DiscChoice } from '../../../ui/disc-choice.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, NumberField, TextField, TickField } from '../../../ui/fields.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Line, Lines, Page, Section } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { usePayload } from '../../../ui/send.js';
import { Countdown, Moment, useNow } from '../../../ui/time.js';
import { Action, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { EndHydration, HydrationTable, OpenRunChoices, OpenRunDiscs, StartHydration } from '../documents.js';

type Hydration = HydrationTableQuery['hydrations'][number];

const concerns = ofKind('hydration', 'hydration_end', 'amendment');

/** Discs on water: until when they float, and how they were taken out. */
export function HydrationsScreen() {
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const [starting, setStarting] = useState(false);
  const { data, error, refetch } = useQuery(HydrationTable);
  const again = () => void refetch();
  useLive(refetch, concerns);
  const floating = data?.hydrations.filter(({ end }) => !end) ?? [];
  const ended = data?.hydrations.filter(({ end }) => end) ?? [];
  const started = () => {
    setStarting(false);
    again();
  };
  return (
    <Page title="Discs on water" margin={<Back to="/bench">Bench</Back>} lead="Discs float until they are turgid; then they are blotted and weighed. Until when follows from the protocol."
      actions={mayRecord && !starting ? <Action onClick={() => setStarting(true)}>Lay discs on water</Action> : null}>
      {starting ? <Section title="Lay discs on water"><StartEntry onStarted={started} onCancel={() => setStarting(false)} /></Section> : null}
      <Section title="On water now" margin={floating.length === 0 ? null : floating.length === 1 ? 'one set' : `${floating.length} sets`}>
        {!data && error ? <Failed what="the discs on water" again={again} /> : null}
        {!data && !error ? <Waiting what="the discs on water" /> : null}
        {data && floating.length === 0 ? <Empty title="No disc is on water." /> : null}
        {floating.length > 0 ? <Lines label="On water now">{floating.map((each) => <FloatingLine key={each.id} hydration={each} mayRecord={mayRecord} onEnded={again} />)}</Lines> : null}
      </Section>
      {ended.length > 0 ? <Section title="Taken out"><Lines label="Taken out, newest first">{ended.map((each) => <EndedLine key={each.id} hydration={each} />)}</Lines></Section> : null}
    </Page>
  );
}

const discsOf = ({ discs }: Hydration): string => discs.map(({ label }) => label).join(', ');
const under = ({ protocol }: Hydration): string => (protocol ? `${protocol.name}, version ${protocol.version}` : 'the house’s own parameters');

function FloatingLine({ hydration, mayRecord, onEnded }: { readonly hydration: Hydration; readonly mayRecord: boolean; readonly onEnded: () => void }) {
  const [ending, setEnding] = useState(false);
  const now = useNow(15);
  const { endsFrom, endsBy, parameters } = hydration;
  const stand = now < Date.parse(endsFrom) ? 'too early' : now <= Date.parse(endsBy) ? 'take them out' : 'late';
  return (
    <Line margin={<><strong>{stand}</strong><br /><Countdown to={stand === 'too early' ? endsFrom : endsBy} /></>}>
      <span id={hydration.id}><strong>{hydration.label}</strong>: {discsOf(hydration)}</span>
      <span>On water since <Moment at={hydration.startedAt} />; take them out from <Moment at={endsFrom} /> to <Moment at={endsBy} />. {hydration.waterC ? `Water ${hydration.waterC} °C. ` : ''}Under {under(hydration)}.</span>
      <span>Then blot {parameters.blottingCount} times {parameters.blottingSeconds} s on {parameters.blottingPaper}, and weigh at once.</span>
      {mayRecord && !ending ? <span><Action kind="plain" onClick={() => setEnding(true)}>They are taken out</Action></span> : null}
      {ending ? <EndEntry hydration={hydration} onEnded={onEnded} onCancel={() => setEnding(false)} /> : null}
    </Line>
  );
}

function EndedLine({ hydration }: { readonly hydration: Hydration }) {
  const end = hydration.end!;
  const minutes = Math.round((Date.parse(end.takenOutAt) - Date.parse(hydration.startedAt)) / 60_000);
  return (
    <Line margin={<Moment at={end.takenOutAt} />}>
      <span id={hydration.id}><strong>{hydration.label}</strong>: {discsOf(hydration)}</span>
      <span>After {minutes} min, {end.blotted ? 'blotted' : 'not blotted as wanted'}, by {end.recordedBy.displayName}. <Link to={threadPath('hydration_end', end.id)}>Thread</Link></span>
      {end.overrideReason ? <span>Otherwise than the protocol says: “{end.overrideReason}”</span> : null}
    </Line>
  );
}

const toEnd = { waterC: '', blotted: true, overrideReason: '' };

function EndEntry({ hydration, onEnded, onCancel }: { readonly hydration: Hydration; readonly onEnded: () => void; readonly onCancel: () => void }) {
  const send = usePayload();
  const [asked, setAsked] = useState<string | null>(null);
  const { hydrationLeastC, hydrationMostC, blottingCount, blottingSeconds } = hydration.parameters;
  const entry = useEntry({
    initial: toEnd,
    keep: true,
    send: ({ waterC, blotted, overrideReason }, id, takenOutAt) => send(EndHydration, { input: { id, hydrationId: hydration.id, takenOutAt, waterC: orNull(decimalText(waterC)), blotted, overrideReason: orNull(overrideReason) } }),
    onRecorded: onEnded,
    onRefused: ({ field, message }) => { if (field === 'overrideReason') setAsked(message); },
  });
  return (
    <EntryForm entry={entry} action="Record that they are out" label={`End of hydration ${hydration.label}`} onCancel={onCancel}>
      <NumberField {...entry.field('waterC')} label="Water now, °C" hint={`${hydrationLeastC} to ${hydrationMostC} are wanted`} optional />
      <TickField {...entry.field('blotted')} label={`Blotted ${blottingCount} times ${blottingSeconds} s, as the protocol says`} />
      {asked === null ? null : (
        <>
          <div style={{ gridColumn: '1 / -1' }}><Notice tone="ask" title={asked}>Leave them on the water if it is too early; else say why.</Notice></div>
          <TextField {...entry.field('overrideReason')} label="Why it was done so" hint="Kept with it, and shown in its Thread" wide />
        </>
      )}
    </EntryForm>
  );
}

const toStart = { label: '', protocolId: '', waterC: '', note: '', discIds: [] as readonly string[] };
const none: readonly never[] = [];

function StartEntry({ onStarted, onCancel }: { readonly onStarted: () => void; readonly onCancel: () => void }) {
  const send = usePayload();
  const [search, setSearch] = useState('');
  const found = useQuery(OpenRunDiscs, { variables: { search: search.trim() || null } });
  const { data } = useQuery(OpenRunChoices);
  const protocols = (data?.protocols ?? []).flatMap(({ versions }) => versions).filter(({ state }) => state === 'APPROVED');
  const entry = useEntry({
    initial: toStart,
    send: ({ label, protocolId, waterC, note, discIds }, id, startedAt) => send(StartHydration, { input: { id, label: label.trim(), protocolId: protocolId || null, waterC: orNull(decimalText(waterC)), note: orNull(note), discIds: [...discIds], startedAt } }),
    onRecorded: onStarted,
  });
  const offered = (found.data ?? found.previousData)?.discs;
  return (
    <EntryForm entry={entry} action="They float now" label="Lay discs on water" onCancel={onCancel}>
      <TextField {...entry.field('label')} label="Label of the set" hint="What stands on the dish, for example H-4" />
      <ChoiceField {...entry.field('protocolId')} label="Protocol" none="None: the house’s own parameters" choices={protocols.map(({ id, name, version }) => ({ value: id, label: `${name}, version ${version}` }))} />
      <NumberField {...entry.field('waterC')} label="Water, °C" optional />
      <TextField {...entry.field('note')} label="Note" optional />
      <DiscChoice binding={entry.field('discIds')} label="Discs on this water" offered={offered?.nodes ?? none} totalCount={offered?.totalCount ?? 0} search={search} onSearch={setSearch}
        empty={<Empty title="No disc fits."><Link to="/samples">Record discs under Samples</Link></Empty>} />
    </EntryForm>
  );
}
