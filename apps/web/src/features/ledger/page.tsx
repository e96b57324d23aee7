import { NetworkStatus } from '@apollo/client';
import { useQuery } from '@apollo/client/react';
import { Link } from 'react-router';
import type { LedgerPageQuery } from '../../generated/graphql.js';
import { capital, kinds, kindsWord, kindWord } from '../../ui/kind-words.js';
import { useLive } from '../../ui/live.js';
import { Page, Section } from '../../ui/page.js';
import { recordPath, threadPath } from '../../ui/paths.js';
import { More, NarrowField, SearchBar, useInAddress } from '../../ui/search.js';
import { Table } from '../../ui/table.js';
import { Dated } from '../../ui/dated.js';
import { Empty, Failed, Waiting } from '../../ui/words.js';
import { LedgerPage, LedgerPeople } from './documents.js';
import styles from './page.module.css';

type Entry = LedgerPageQuery['ledger']['nodes'][number];

/** What was done, as the ledger writes it, told as done. */
const done: Readonly<Record<string, string>> = {
  record: 'recorded', issue: 'issued', revoke: 'revoked', compute: 'computed', import: 'imported', close: 'closed', release: 'released', unload: 'unloaded', amend: 'amended', retract: 'retracted', authored: 'authored', reviewed: 'reviewed', approved: 'approved', withdrawn: 'withdrawn',
};

const hasScreen = ({ subjectKind, subjectId }: Entry): boolean => !recordPath(subjectKind, subjectId).startsWith('/thread/');

const columns = [
  { head: 'When', cell: ({ recordedAt }: Entry) => <Dated at={recordedAt} /> },
  { head: 'Who', cell: ({ person, throughToken }: Entry) => throughToken ? <>{person.displayName} <small>through token {throughToken}</small></> : person.displayName },
  { head: 'What', cell: (entry: Entry) => <>{done[entry.action] ?? entry.action}: {hasScreen(entry) ? <Link to={recordPath(entry.subjectKind, entry.subjectId)}>{kindWord(entry.subjectKind)}</Link> : kindWord(entry.subjectKind)}{entry.reason ? <><br /><span className={styles.reason}>“{entry.reason}”</span></> : null}</> },
  { head: 'Content, SHA-256', cell: ({ contentHash }: Entry) => <code className={styles.hash} title={contentHash}>{contentHash.slice(0, 12)}</code> },
  {
    head: 'Thread',
    cell: ({ subjectKind, subjectId, contentHash }: Entry) => (
      <span className={styles.ways}>
        <Link to={threadPath(subjectKind, subjectId, 'down')} aria-label={`Thread down from this ${kindWord(subjectKind)}, content ${contentHash.slice(0, 12)}`}>down</Link>
        <Link to={threadPath(subjectKind, subjectId, 'up')} aria-label={`Thread up from this ${kindWord(subjectKind)}, content ${contentHash.slice(0, 12)}`}>up</Link>
      </span>
    ),
  },
] as const;

/** Every write of the lab, newest first: nothing is ever taken out of it. */
export function Screen() {
  const [subjectKind] = useInAddress('kind');
  const [personId] = useInAddress('person');
  const [subjectId] = useInAddress('subject');
  const variables = { subjectKind: subjectKind || null, personId: personId || null, subjectId: subjectId || null };
  const { data, previousData, error, refetch, fetchMore, networkStatus } = useQuery(LedgerPage, { variables, notifyOnNetworkStatusChange: true });
  const people = useQuery(LedgerPeople);
  useLive(() => refetch());
  const page = (data ?? previousData)?.ledger;
  const narrowed = subjectKind !== '' || personId !== '' || subjectId !== '';
  const more = () => void fetchMore({
    variables: { ...variables, after: page?.pageInfo.endCursor ?? null },
    updateQuery: (before, { fetchMoreResult: next }) => ({ ledger: { ...next.ledger, nodes: [...before.ledger.nodes, ...next.ledger.nodes] } }),
  });
  return (
    <Page title="Ledger" lead="Every write of this lab, newest first. Entries are added, never changed or taken out; each carries the hash of what was written.">
      <Section title={subjectId ? 'Entries of one record' : 'Entries'}>
        <SearchBar>
          <NarrowField name="kind" label="Kind of record" all="All kinds" choices={kinds.map((kind) => ({ value: kind, label: capital(kindsWord(kind)) }))} />
          <NarrowField name="person" label="Person" all="Everybody" choices={(people.data?.people ?? []).map(({ person }) => ({ value: person.id, label: person.displayName }))} />
        </SearchBar>
        {!page ? (error ? <Failed what="the ledger" again={() => void refetch()} /> : <Waiting what="the ledger" />) : null}
        {page?.nodes.length === 0 ? <Empty title={narrowed ? 'No entry fits.' : 'Nothing has been written yet.'}>{narrowed ? <Link to="/ledger">Show all entries</Link> : null}</Empty> : null}
        {page && page.nodes.length > 0 ? (
          <>
            <Table caption="Ledger entries, newest first" columns={columns} rows={page.nodes} keyOf={({ id }) => id} />
            <More shown={`${page.nodes.length} ${page.nodes.length === 1 ? 'entry' : 'entries'}`} hasMore={page.pageInfo.hasNextPage} more={more} waiting={networkStatus === NetworkStatus.fetchMore} />
          </>
        ) : null}
      </Section>
    </Page>
  );
}
