import { useQuery } from '@apollo/client/react';
import { Link, useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { TripPageQuery } from '../../../generated/graphql.js';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { AmendedMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { TripPage } from '../documents.js';
import styles from './field.module.css';
import { actionWords, InferredRwc, NoValve } from './field-words.js';

/** One trip: when, under which light, and what RWC that means. */
export function TripScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(TripPage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => ['decision', 'amendment'].includes(kind));
  const back = <Back to="/field">Field</Back>;
  if (!data) return <Page title="Trip" margin={back}><Strip>{error ? <Failed what="this trip" again={() => void refetch()} /> : <Waiting what="the trip" />}</Strip></Page>;
  if (!data.trip) return <Page title="Trip" margin={back}><Strip><Empty title="No trip of this lab has this address." /></Strip></Page>;
  return <OneTrip trip={data.trip} />;
}

function OneTrip({ trip }: { readonly trip: NonNullable<TripPageQuery['trip']> }) {
  const { installation } = trip;
  const mayDecide = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  return (
    <Page title={`Trip of unit ${installation.deviceUnit.label}`} margin={<Back to={`/field/${installation.id}`}>Installation</Back>} lead={<>Zone {installation.zone}, {installation.site}.</>}
      actions={<>{mayDecide ? <ActionLink kind="strong" to={`/field/decide?trip=${trip.id}`}>Record a decision</ActionLink> : null}<ActionLink to={threadPath('trip', trip.id)}>Follow the thread</ActionLink></>}>
      {trip.amendedBy ? <Strip><Notice tone="ask" title="This trip was amended.">“{trip.amendedBy.reason}” <AmendedMark /></Notice></Strip> : null}
      <Section title="What it means">
        <p className={styles.read}><InferredRwc trip={trip} /></p>
        <p>{trip.inferredRwc == null ? 'With the light at the moment of the trip the certificate would infer an RWC and its interval.' : 'Inferred by the unit’s certificate at the light then. The interval holds how leaves differ, the calibration, the unit and the light.'}</p>
        <Facts rows={[
          { name: 'Tripped', value: trip.trippedAt ? <Moment at={trip.trippedAt} /> : 'not known, only the finding is' },
          { name: 'Seen', value: <Moment at={trip.seenAt} /> },
          { name: 'Known by', value: trip.source === 'LOGGER' ? 'a logger' : `a person, ${trip.recordedBy.displayName}` },
          { name: 'Light then', value: trip.lightPowerNw ? `${trip.lightPowerNw} nW in the band` : 'not known' },
          trip.note ? { name: 'Note', value: trip.note } : null,
          { name: 'Recorded', value: <><Moment at={trip.recordedAt} /> by {trip.recordedBy.displayName}</> },
        ]} />
      </Section>
      <Section title="Decisions" lead={<NoValve />}>
        {trip.decisions.length === 0 ? <Empty title="Nothing has been decided on it yet." /> : <ul>{trip.decisions.map(({ id, action, decidedAt }) => <li key={id}><Link to={`/field/decision/${id}`}>{actionWords[action]}</Link>, <Moment at={decidedAt} /></li>)}</ul>}
      </Section>
    </Page>
  );
}
