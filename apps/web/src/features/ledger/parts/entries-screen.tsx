import { NetworkStatus } from '@apollo/client';
import { useQuery } from '@apollo/client/react';
import { exceptionWords } from '#libs/telling';
import { Link } from 'react-router';
import type { LedgerException, LedgerPageQuery } from '../../../generated/graphql.js';
import { TextField } from '../../../ui/fields.js';
import { capital, kinds, kindsWord, kindWord } from '../../../ui/kind-words.js';
import { useLive } from '../../../ui/live.js';
import { Page, Section } from '../../../ui/page.js';
import { recordPath, threadPath } from '../../../ui/paths.js';
import { More, NarrowField, SearchBar, useInAddress } from '../../../ui/search.js';
import { Table } from '../../../ui/table.js';
import { Dated } from '../../../ui/dated.js';
import { ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { LedgerChoices, LedgerExceptions, LedgerPage } from '../documents.js';
import styles from './ledger.module.css';
import { doneWord } from './words.js';

type Entry = LedgerPageQuery['ledger']['nodes'][number];

const isException = (text: string): text is LedgerException => text in exceptionWords;

const columns = [
  { head: 'When', cell: ({ recordedAt }: Entry) => <Dated at={recordedAt} /> },
  { head: 'Who', cell: ({ person, throughToken }: Entry) => (throughToken ? <>{person.displayName} <small>through token {throughToken}</small></> : person.displayName) },
  {
    head: 'What',
    cell: ({ action, subjectKind, subjectId, label, summary, reason, exceptions }: Entry) => (
      <>
        {capital(doneWord(action))}: <Link to={recordPath(subjectKind, subjectId)}>{label}</Link>
        {summary ? <><br /><span className={styles.summary}>{summary}</span></> : null}
        {reason ? <><br /><span className={styles.reason}>“{reason}”</span></> : null}
        {exceptions.length > 0 ? <><br /><span className={styles.mark}>{exceptions.map((exception) => exceptionWords[exception].mark).join(', ')}</span></> : null}
      </>
    ),
  },
  { head: 'Place', number: true, cell: ({ place }: Entry) => place ?? 'waits' },
  {
    head: 'Proof and thread',
    cell: ({ id, subjectKind, subjectId, label, contentHash }: Entry) => (
      <span className={styles.ways}>
        <Link to={`/ledger/entry/${id}`} aria-label={`Proof of the ${label}, content ${contentHash.slice(0, 12)}`}>proof</Link>
        <Link to={threadPath(subjectKind, subjectId, 'down')} aria-label={`Thread down from this ${kindWord(subjectKind)}, ${label}, content ${contentHash.slice(0, 12)}`}>down</Link>
        <Link to={threadPath(subjectKind, subjectId, 'up')} aria-label={`Thread up from this ${kindWord(subjectKind)}, ${label}, content ${contentHash.slice(0, 12)}`}>up</Link>
      </span>
    ),
  },
] as const;

const spans = [
  { value: '15', label: 'More than 15 minutes' }, { value: '480', label: 'More than 8 hours' }, { value: '1440', label: 'More than a day' }, { value: '10080', label: 'More than a week' },
] as const;

/** What the address says to look for. */
function useFilter() {
  const [kind] = useInAddress('kind');
  const [person] = useInAddress('person');
  const [subject] = useInAddress('subject');
  const [action] = useInAddress('action');
  const [id, setId] = useInAddress('id');
  const [from, setFrom] = useInAddress('from');
  const [until, setUntil] = useInAddress('until');
  const [late] = useInAddress('late');
  const [exception, setException] = useInAddress('exception');
  const wholeId = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i.test(id.trim()) ? id.trim().toLowerCase() : null;
  const shared = {
    subjectKind: kind || null, personId: person || null, subjectId: subject || null, action: action || null, id: wholeId, lateAfterMin: Number(late) || 60,
    // Days as this computer counts them; the last one belongs to the span.
    from: dayStart(from, 0), until: dayStart(until, 1),
  };
  return { shared, exception: isException(exception) ? exception : null, setException, id, setId, from, setFrom, until, setUntil, subject, badId: id.trim() !== '' && !wholeId };
}

function dayStart(day: string, plus: number): string | null {
  const [year, month, date] = day.split('-').map(Number);
  if (!year || !month || !date) return null;
  return new Date(year, month - 1, date + plus).toISOString();
}

/** Every write of the lab, newest first, and what an auditor asks for, counted. */
export function EntriesScreen() {
  const filter = useFilter();
  const { shared, exception } = filter;
  const variables = { ...shared, exception };
  const { data, previousData, error, refetch, fetchMore, networkStatus } = useQuery(LedgerPage, { variables, notifyOnNetworkStatusChange: true });
  const counts = useQuery(LedgerExceptions, { variables: shared });
  const choices = useQuery(LedgerChoices);
  useLive(() => refetch());
  const page = (data ?? previousData)?.ledger;
  const more = () => void fetchMore({
    variables: { ...variables, after: page?.pageInfo.endCursor ?? null },
    updateQuery: (before, { fetchMoreResult: next }) => ({ ledger: { ...next.ledger, nodes: [...before.ledger.nodes, ...next.ledger.nodes] } }),
  });
  const dayField = (name: string, label: string, value: string, onChange: (value: string) => void) => <TextField name={name} label={label} hint="2026-06-03" value={value} onChange={onChange} problem={null} inputMode="numeric" unmarked />;
  return (
    <Page title="Ledger" lead="Every write of this lab, newest first. Entries are added, never changed or taken out; each carries the hash of what was written."
      actions={<><ActionLink to="/ledger/checkpoints">Checkpoints to keep</ActionLink><ActionLink to="/ledger/results">Results computed again</ActionLink></>}>
      <Section title="What to stop at" lead={exception ? exceptionWords[exception].says : 'Choose one to see its entries alone.'}>
        <div className={styles.exceptions} role="group" aria-label="Exceptions">
          {((counts.data ?? counts.previousData)?.ledgerExceptions ?? []).map(({ exception: name, count }) => (
            <button key={name} type="button" aria-pressed={exception === name} data-none={count === 0 || undefined} onClick={() => filter.setException(exception === name ? '' : name)}>
              <span>{exceptionWords[name].title}</span> <span>{count === 0 ? 'none' : count}</span>
            </button>
          ))}
        </div>
      </Section>
      <Section title={filter.subject ? 'Entries of one record' : exception ? exceptionWords[exception].title : 'Entries'}>
        <SearchBar>
          <NarrowField name="kind" label="Kind of record" all="All kinds" choices={kinds.map((kind) => ({ value: kind, label: capital(kindsWord(kind)) }))} />
          <NarrowField name="person" label="Person" all="Everybody" choices={(choices.data?.people ?? []).map(({ person }) => ({ value: person.id, label: person.displayName }))} />
          <NarrowField name="action" label="What was done" all="Anything" choices={(choices.data?.ledgerActions ?? []).map((action) => ({ value: action, label: capital(doneWord(action)) }))} />
          {dayField('from', 'From day', filter.from, filter.setFrom)}
          {dayField('until', 'Until day', filter.until, filter.setUntil)}
          <TextField name="id" label="Id of a record or entry" value={filter.id} onChange={filter.setId} problem={null} unmarked />
          <NarrowField name="late" label="Late means observed before" all="More than an hour" choices={spans} />
        </SearchBar>
        {filter.badId ? <Notice tone="ask" title="This is no whole id, so it does not narrow the list.">Paste all of it: 36 letters and hyphens.</Notice> : null}
        {!page ? (error ? <Failed what="the ledger" again={() => void refetch()} /> : <Waiting what="the ledger" />) : null}
        {page?.nodes.length === 0 ? <Empty title="No entry fits."><Link to="/ledger">Show all entries</Link></Empty> : null}
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
