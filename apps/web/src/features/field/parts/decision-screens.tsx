import { NetworkStatus } from '@apollo/client';
import { useQuery } from '@apollo/client/react';
import { useParams } from 'react-router';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Lines, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { More } from '../../../ui/search.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { DecisionList, DecisionPage } from '../documents.js';
import { AdviceMark } from './advice.js';
import { DecisionOutcomes } from './decision-outcomes.js';
import { actionWords, DecisionLine, NoValve, TripLine } from './field-words.js';

/** All decisions, newest first. */
export function DecisionsScreen() {
  const { data, error, refetch, fetchMore, networkStatus } = useQuery(DecisionList, { variables: {}, notifyOnNetworkStatusChange: true });
  useLive(() => refetch(), ({ kind }) => kind === 'decision');
  const page = data?.decisions;
  const more = () => void fetchMore({
    variables: { after: page?.pageInfo.endCursor ?? null },
    updateQuery: (before, { fetchMoreResult: next }) => ({ decisions: { ...next.decisions, nodes: [...before.decisions.nodes, ...next.decisions.nodes] } }),
  });
  return (
    <Page title="Decisions" margin={<Back to="/field">Field</Back>} lead={<NoValve />}>
      <Strip>
        {!page ? (error ? <Failed what="the decisions" again={() => void refetch()} /> : <Waiting what="the decisions" />) : null}
        {page?.nodes.length === 0 ? <Empty title="Nothing has been decided yet." /> : null}
        {page && page.nodes.length > 0 ? (
          <>
            <Lines label="Decisions, newest first">{page.nodes.map((decision) => <DecisionLine key={decision.id} decision={decision} />)}</Lines>
            <More shown={`${page.nodes.length} ${page.nodes.length === 1 ? 'decision' : 'decisions'}`} hasMore={page.pageInfo.hasNextPage} more={more} waiting={networkStatus === NetworkStatus.fetchMore} />
          </>
        ) : null}
      </Strip>
    </Page>
  );
}

/** One decision: what, why, after which trips; and the way back to the masses. */
export function DecisionScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(DecisionPage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => kind === 'amendment' || kind === 'decision_outcome');
  const back = <Back to="/field/decisions">Decisions</Back>;
  if (!data) return <Page title="Decision" margin={back}><Strip>{error ? <Failed what="this decision" again={() => void refetch()} /> : <Waiting what="the decision" />}</Strip></Page>;
  const { decision } = data;
  if (!decision) return <Page title="Decision" margin={back}><Strip><Empty title="No decision of this lab has this address." /></Strip></Page>;
  return (
    <Page title={`Zone ${decision.zone}: ${actionWords[decision.action]}${decision.depthMm ? ` ${decision.depthMm} mm` : ''}`} margin={back} lead={<>“{decision.reason}”</>} actions={<ActionLink kind="strong" to={threadPath('decision', id)}>Follow the thread</ActionLink>}>
      {decision.overrode ? <Strip><Notice tone="ask" title="It goes against something.">“{decision.overrode}”</Notice></Strip> : null}
      <Strip>
        <Facts rows={[
          { name: 'Decided', value: <Moment at={decision.decidedAt} /> },
          { name: 'By', value: decision.recordedBy.displayName },
          { name: 'Recorded', value: <Moment at={decision.recordedAt} /> },
        ]} />
      </Strip>
      {decision.advice ? (
        <Section title="What the rule had said" lead={<>Version {decision.advice.rule.version} of the zone’s rule, <Moment at={decision.advice.madeFor} />{decision.advice.stale ? '; a trip that it counted was amended since' : ''}.</>}>
          <AdviceMark advice={decision.advice.standing.advice} />
          <p>{decision.advice.standing.reasons.join(' ')}</p>
        </Section>
      ) : null}
      {decision.trips.length > 0 ? <Section title="Trips it rests on"><Lines label="Trips it rests on">{decision.trips.map((trip) => <TripLine key={trip.id} trip={trip} />)}</Lines></Section> : null}
      <DecisionOutcomes decision={decision} again={() => void refetch()} />
      <Strip><NoValve /></Strip>
    </Page>
  );
}
