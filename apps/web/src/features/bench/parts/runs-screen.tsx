import { NetworkStatus } from '@apollo/client';
import { useApolloClient, useQuery } from '@apollo/client/react';
import { useEffect } from 'react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { DryingRunState, RunTableQuery } from '../../../generated/graphql.js';
import { forOffline } from '../../../offline/stored-reads.js';
import { AsOf } from '../../../ui/as-of.js';
import { useLive } from '../../../ui/live.js';
import { Line, Lines, Page, Section } from '../../../ui/page.js';
import { More, NarrowField, SearchBar, useInAddress } from '../../../ui/search.js';
import { DryingRunMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { RunPage, RunTable } from '../documents.js';

type Run = RunTableQuery['dryingRuns']['nodes'][number];

const states = [{ value: 'OPEN', label: 'Open' }, { value: 'CLOSED', label: 'Closed' }, { value: 'RELEASED', label: 'Released' }] as const;

/** All drying runs, newest first. */
export function RunsScreen() {
  const [state] = useInAddress('state');
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const variables = { first: 50, state: (state || null) as DryingRunState | null };
  const { data, previousData, error, refetch, fetchMore, networkStatus } = useQuery(RunTable, { variables, notifyOnNetworkStatusChange: true, context: forOffline });
  useLive(() => refetch(), ({ kind }) => kind.startsWith('drying_run'));
  const runs = (data ?? previousData)?.dryingRuns;
  useReadAhead(mayRecord ? (runs?.nodes ?? []).filter((run) => run.state === 'OPEN').slice(0, READ_AHEAD).map(({ id }) => id) : none);
  const more = () => void fetchMore({
    variables: { after: runs?.pageInfo.endCursor ?? null },
    updateQuery: (before, { fetchMoreResult: next }) => ({ dryingRuns: { ...next.dryingRuns, nodes: [...before.dryingRuns.nodes, ...next.dryingRuns.nodes] } }),
  });
  return (
    <Page title="Bench" lead="Follow discs from turgid to wilted: weigh, read, and again." actions={<>{mayRecord ? <ActionLink to="/bench/open" kind="strong">Open a drying run</ActionLink> : null}<ActionLink to="/bench/water">Discs on water</ActionLink></>}>
      <AsOf document={RunTable} variables={variables} />
      <Section title="Drying runs">
        <SearchBar><NarrowField name="state" label="State" all="All runs" choices={states} /></SearchBar>
        {!runs && error ? <Failed what="the runs" again={() => void refetch()} /> : null}
        {!runs && !error ? <Waiting what="the runs" /> : null}
        {runs?.nodes.length === 0 ? <Empty title={state ? 'No run is in this state.' : 'No drying run has been opened yet.'}><p>A run needs a rig, a balance in check and at least one disc.</p></Empty> : null}
        {runs && runs.nodes.length > 0 ? (
          <>
            <Lines label="Drying runs">{runs.nodes.map((run) => <RunLine key={run.id} run={run} />)}</Lines>
            <More shown={runs.nodes.length === 1 ? '1 run' : `${runs.nodes.length} runs`} hasMore={runs.pageInfo.hasNextPage} more={more} waiting={networkStatus === NetworkStatus.fetchMore} />
          </>
        ) : null}
      </Section>
    </Page>
  );
}

function RunLine({ run }: { readonly run: Run }) {
  const discs = run.discs.map(({ label }) => label);
  return (
    <Line margin={<DryingRunMark state={run.state} />}>
      <span><Link to={`/bench/${run.id}`}><strong>{run.label}</strong></Link>, opened <Moment at={run.openedAt} relative /></span>
      <span>{discs.length === 1 ? '1 disc' : `${discs.length} discs`}: {discs.slice(0, 6).join(', ')}{discs.length > 6 ? ' and more' : ''}</span>
      <span>{run.rig.label}, version {run.rig.version}; {run.balance.label}; every {run.rhythmMin} min</span>
    </Line>
  );
}

const READ_AHEAD = 5;
const none: readonly string[] = [];

/** The newest open runs are read ahead, so that this device can go on with them when the network is gone. */
function useReadAhead(ids: readonly string[]): void {
  const client = useApolloClient();
  const key = ids.join(' ');
  useEffect(() => {
    let left = false;
    void (async () => {
      for (const id of key.split(' ').filter(Boolean)) {
        if (left) return;
        await client.query({ query: RunPage, variables: { id }, fetchPolicy: 'network-only', context: forOffline }).catch(() => undefined);
      }
    })();
    return () => {
      left = true;
    };
  }, [client, key]);
}
