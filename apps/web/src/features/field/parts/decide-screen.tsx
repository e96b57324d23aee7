import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { useNavigate, useSearchParams } from 'react-router';
import { formatPercentPlain } from '#libs/quantity';
import type { AdviceToDecideQuery, DecisionAction, TripFieldsFragment } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField, MomentField, NumberField, SegmentField, TextField, TicksField } from '../../../ui/fields.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { localInput, momentFromInput, momentText, useNow } from '../../../ui/time.js';
import { Action, Empty, Failed, Waiting } from '../../../ui/words.js';
import { RecordDecision, TripChoices } from '../documents.js';
import { AdviceToDecide } from '../zone-documents.js';
import { Standing } from './advice.js';
import { actionWords, IrrigationCaution, NoValve, tripMoment } from './field-words.js';

/** What was done after one or more trips, and why. */
export function DecideScreen() {
  const [params] = useSearchParams();
  const adviceId = params.get('advice') ?? '';
  const told = useQuery(AdviceToDecide, { variables: { id: adviceId }, skip: adviceId === '' });
  const advice = adviceId === '' ? null : (told.data?.zoneAdvice ?? null);
  const ready = adviceId === '' || told.data !== undefined || told.error !== undefined;
  const { data, error, refetch, fetchMore } = useQuery(TripChoices, { variables: {}, fetchPolicy: 'cache-and-network' });
  const more = () => void fetchMore({
    variables: { after: data?.trips.pageInfo.endCursor ?? null },
    updateQuery: (before, { fetchMoreResult: next }) => ({ trips: { ...next.trips, nodes: [...before.trips.nodes, ...next.trips.nodes] } }),
  });
  return (
    <Page title="Record a decision" margin={<Back to="/field">Field</Back>} lead={<NoValve />}>
      {!data ? <Strip>{error ? <Failed what="the trips" again={() => void refetch()} /> : <Waiting what="the trips" />}</Strip> : null}
      {advice ? <Section title="What the rule said"><Standing standing={advice.standing} rule={advice.rule} /></Section> : null}
      {data && data.trips.nodes.length === 0 && !advice ? <Strip><Empty title="No unit has tripped yet."><p>A decision rests on one trip or more.</p></Empty></Strip> : null}
      {data && ready && (data.trips.nodes.length > 0 || advice) ? <Section title="The decision"><DecideEntry advice={advice} trips={data.trips.nodes} {...(data.trips.pageInfo.hasNextPage ? { more } : {})} /></Section> : null}
    </Page>
  );
}

const actions = (Object.keys(actionWords) as DecisionAction[]).map((value) => ({ value, label: actionWords[value].charAt(0).toUpperCase() + actionWords[value].slice(1) }));

type AdviceGiven = NonNullable<AdviceToDecideQuery['zoneAdvice']>;

/** The trips that the advice counted: the newest standing trip of each unit that votes. */
const counted = (advice: AdviceGiven, trips: readonly TripFieldsFragment[]): string[] =>
  advice.standing.units.filter(({ votes }) => votes).flatMap(({ installation }) => trips.find((trip) => trip.installation.id === installation.id && !trip.amendedBy)?.id ?? []);

function DecideEntry({ trips, advice, more }: { readonly trips: readonly TripFieldsFragment[]; readonly advice: AdviceGiven | null; readonly more?: () => void }) {
  const send = usePayload();
  const navigate = useNavigate();
  const now = useNow(60);
  const [params] = useSearchParams();
  const asked = trips.find(({ id }) => id === params.get('trip'));
  const standing = trips.filter(({ amendedBy }) => !amendedBy);
  const [initial] = useState(() => ({
    zone: advice?.zone ?? asked?.installation.zone ?? standing.find(({ decisions }) => decisions.length === 0)?.installation.zone ?? '', tripIds: advice ? counted(advice, trips) : asked ? [asked.id] : ([] as readonly string[]), action: advice && advice.standing.advice !== 'IRRIGATE' ? 'HOLD' : 'IRRIGATE', depthMm: '', decidedAt: localInput(new Date()), reason: '', overrode: '',
  }));
  const entry = useEntry({
    initial,
    keep: true,
    send: ({ zone, tripIds, action, depthMm, decidedAt, reason, overrode }, id) => send(RecordDecision, {
      input: { id, zone: zone.trim(), tripIds: [...tripIds], action: action as DecisionAction, depthMm: action === 'IRRIGATE' ? orNull(decimalText(depthMm)) : null, decidedAt: momentFromInput(decidedAt), reason: reason.trim(), overrode: orNull(overrode), zoneAdviceId: advice?.id ?? null },
    }),
    onRecorded: ({ decision }) => void (decision && navigate(`/field/decision/${decision.id}`)),
  });
  const { zone, action, tripIds } = entry.values;
  const inZone = standing.filter((trip) => trip.installation.zone === zone.trim() || tripIds.includes(trip.id));
  const zones = [...new Set(standing.map(({ installation }) => installation.zone))];
  return (
    <EntryForm entry={entry} action="Record decision" disabled={tripIds.length === 0 && !advice}>
      <TextField {...entry.field('zone')} label="Zone" hint={`Tripped: ${zones.slice(0, 12).join(', ')}`} />
      <MomentField {...entry.field('decidedAt')} label="Decided at" />
      <TicksField {...entry.field('tripIds')} label="Trips it rests on" empty={<Empty title={`No trip in zone ${zone}.`} />} hint={more ? <Action kind="quiet" onClick={more}>Show older trips</Action> : undefined}
        choices={inZone.map((trip) => ({ value: trip.id, label: `Unit ${trip.installation.deviceUnit.label}, ${momentText(tripMoment(trip), now)}`, beside: `${trip.inferredRwc == null ? 'RWC not inferred' : `RWC about ${formatPercentPlain(trip.inferredRwc, 0)}`}${trip.decisions.length > 0 ? ', decided before' : ''}` }))} />
      <SegmentField {...entry.field('action')} label="Decided to" choices={actions} wide />
      {action === 'IRRIGATE' ? <NumberField {...entry.field('depthMm')} label="Depth of water, mm" optional /> : null}
      <AreaField {...entry.field('reason')} label="Reason" hint="So that somebody understands it in six years" />
      <TextField {...entry.field('overrode')} label="What it goes against" hint="Where it goes against the trips, a rule or advice" optional wide />
      {action === 'IRRIGATE' ? <div style={{ gridColumn: '1 / -1' }}><IrrigationCaution /></div> : null}
    </EntryForm>
  );
}
