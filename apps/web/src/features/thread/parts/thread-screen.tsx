import { useQuery } from '@apollo/client/react';
import { memo, useDeferredValue, useMemo, useState, useTransition } from 'react';
import { Link, useParams } from 'react-router';
import { capital, kindWord } from '../../../ui/kind-words.js';
import { useLive } from '../../../ui/live.js';
import { Page, Strip } from '../../../ui/page.js';
import { recordPath, threadPath } from '../../../ui/paths.js';
import { useInAddress } from '../../../ui/search.js';
import { wasAnswered } from '../../../ui/send.js';
import { Action, ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { ThreadOfRecord } from '../documents.js';
import { chaptersOf, keeping } from './chapters.js';
import type { Chapter, Direction, Entry } from './chapters.js';
import { isException } from './exceptions.js';
import type { Node, Thread } from './exceptions.js';
import { Recomputed } from './recomputed.js';
import { ThreadFiles } from './thread-files.js';
import { ThreadFilter, useThreadFilter } from './thread-filter.js';
import { Fold, GroupFold } from './fold.js';
import { Step } from './step.js';
import type { Tie } from './step.js';
import styles from './thread.module.css';

/** /thread/:kind/:id: from a decision down to the lines of the balance, or from a fact up to all it touched. */
export function ThreadScreen() {
  const { kind = '', id = '' } = useParams();
  const [asked] = useInAddress('direction');
  const direction: Direction = asked === 'up' ? 'up' : 'down';
  // Thousands of records, read once and never written here: taking them apart for the cache would cost more than the walk.
  const { data, error, refetch } = useQuery(ThreadOfRecord, { variables: { kind, id, direction: direction === 'up' ? 'UP' : 'DOWN' }, fetchPolicy: 'no-cache' });
  useLive(() => refetch(), (event) => event.kind === 'amendment');
  if (data) return <OneThread key={`${id} ${direction}`} thread={data.thread} direction={direction} />;
  return (
    <Page title={`Thread of a ${kindWord(kind)}`}>
      <Strip>
        {!error ? <Waiting what="the thread" /> : null}
        {wasAnswered(error) ? <Empty title={error.errors[0]?.message ?? 'No record of this lab has this address.'}><p>Look whether the address is whole, and whether you are in the right lab.</p></Empty> : null}
        {error && !wasAnswered(error) ? <Failed what="this thread" again={() => void refetch()} /> : null}
      </Strip>
    </Page>
  );
}

const leads = {
  down: 'Everything this rests on, step by step, down to the lines of the balance.',
  up: 'Everything this touches, step by step, up to the decisions.',
} as const;

/** From so many steps on, laying out all of them at once would be felt. */
const LONG = 500;

function OneThread({ thread, direction }: { readonly thread: Thread; readonly direction: Direction }) {
  const [only, setOnly] = useInAddress('only');
  const [allOpened, setAllOpened] = useState(false);
  const [unfolding, startUnfolding] = useTransition();
  const { root } = thread;
  const chapters = useMemo(() => chaptersOf(thread, direction), [thread, direction]);
  const exceptions = useMemo(() => thread.nodes.filter(isException).length, [thread]);
  // The tick answers at once; the address and the lines, of which there may be thousands, follow.
  const [narrowed, setNarrowed] = useState(only === 'exceptions');
  const drawn = useDeferredValue(narrowed);
  const filter = useThreadFilter();
  const filtered = useDeferredValue(filter);
  const shown = useMemo(() => {
    if (!drawn && !filtered) return chapters;
    return keeping(chapters, (node: Node) => (!drawn || isException(node)) && (!filtered || filtered(node)));
  }, [chapters, drawn, filtered]);
  const narrow = (next: boolean) => {
    setNarrowed(next);
    setOnly(next ? 'exceptions' : '');
  };
  const ties = useTies(thread, shown, direction);
  const other = direction === 'down' ? 'up' : 'down';
  const screen = recordPath(root.kind, root.id);
  return (
    <Page title={`Thread of ${root.label}`} margin={<>{screen.startsWith('/thread/') ? null : <><Link to={screen}>Open the {kindWord(root.kind)}</Link><br /></>}<Link to={`/ledger?subject=${root.id}`}>Its ledger entries</Link></>} lead={leads[direction]}
      actions={<><ActionLink to={threadPath(root.kind, root.id, other)}>{other === 'up' ? 'Follow it up' : 'Follow it down'}</ActionLink><ThreadFiles kind={root.kind} id={root.id} direction={direction} /><Action kind="plain" onClick={() => window.print()}>Print</Action></>}>
      <Strip margin={`${thread.nodes.length} ${thread.nodes.length === 1 ? 'step' : 'steps'}`}>
        {thread.truncated ? <Notice tone="ask" title="The thread is longer than what is shown here.">Follow it from a nearer record to see the rest.</Notice> : null}
        <div className={`${styles.tools} no-print`}>
          <label className={styles.only}>
            <input type="checkbox" checked={narrowed} onChange={(event) => narrow(event.currentTarget.checked)} />
            <span>Only exceptions <small>({exceptions}: amended, stale, overridden, left out, flagged, instrument out of check, same hand, clock ahead, typed by hand)</small></span>
          </label>
          {narrowed || filter ? null : <Action kind="quiet" waiting={unfolding} onClick={() => startUnfolding(() => setAllOpened(!allOpened))}>{allOpened ? 'Fold all' : 'Unfold all'}</Action>}
        </div>
        <ThreadFilter nodes={thread.nodes} />
      </Strip>
      {filter && shown.length === 0 ? <Strip><Empty title="No step fits."><p>Choose fewer things at once.</p></Empty></Strip> : null}
      {narrowed && exceptions === 0 ? <Strip><Empty title="There is no exception in this thread."><p>Nothing was amended, overridden, left out or flagged, and every instrument was in check at its moment.</p></Empty></Strip> : null}
      {thread.nodes.length === 1 && !narrowed ? <Strip><Empty title={direction === 'down' ? 'It rests on nothing else.' : 'Nothing rests on it yet.'} /></Strip> : null}
      <div className={styles.thread} data-long={thread.nodes.length > LONG || undefined}>
        {shown.map((chapter) => <ChapterOf key={`${chapter.key} ${allOpened}`} chapter={chapter} ties={ties} tiesWord={direction === 'down' ? 'Rests on' : 'Carries'} openFirst={allOpened} />)}
      </div>
      {direction === 'down' ? <Recomputed kind={root.kind} id={root.id} /> : null}
    </Page>
  );
}

interface ChapterProps {
  readonly chapter: Chapter;
  readonly ties: ReadonlyMap<string, readonly Tie[]>;
  readonly tiesWord: string;
  readonly openFirst: boolean;
}

/** More leaves than this fold, each into a line of its own. */
const MOST_GROUPS = 12;

const ChapterOf = memo(function ChapterOf({ chapter, ties, tiesWord, openFirst }: ChapterProps) {
  const many = chapter.groups.length > MOST_GROUPS;
  return (
    <section className={styles.chapter} aria-label={capital(chapter.title.replace('… ', ''))}>
      <h2>{chapter.title}</h2>
      {chapter.groups.map((group) => {
        const entries = <EntriesOf entries={group.entries} ties={ties} tiesWord={tiesWord} openFirst={openFirst} />;
        if (many && group.title) return <GroupFold key={group.key} title={group.title} entries={group.entries} openFirst={openFirst}>{entries}</GroupFold>;
        return <div key={group.key}>{group.title ? <h3>{group.title}</h3> : null}{entries}</div>;
      })}
    </section>
  );
});

interface EntriesProps extends Omit<ChapterProps, 'chapter'> {
  readonly entries: readonly Entry[];
}

function EntriesOf({ entries, ties, tiesWord, openFirst }: EntriesProps) {
  return (
    <ol className={styles.steps}>
      {entries.map((entry) => (entry.sort === 'step'
        ? <Step key={entry.node.id} node={entry.node} ties={ties.get(entry.node.id) ?? []} tiesWord={tiesWord} />
        : <Fold key={`${entry.title} ${entry.nodes[0]?.id}`} title={entry.title} nodes={entry.nodes} tiesWord={tiesWord} openFirst={openFirst} />))}
    </ol>
  );
}

/** Every series of a run shares its darks and references: naming them at each would say nothing. */
const untold = new Set(['dark', 'reference']);

/** For each step in view: the steps in view that it is tied to, next below (or above) it in the chain. */
function useTies(thread: Thread, chapters: readonly Chapter[], direction: Direction): ReadonlyMap<string, readonly Tie[]> {
  return useMemo(() => {
    const inView = new Set(chapters.flatMap(({ groups }) => groups.flatMap(({ entries }) => entries.flatMap((entry) => (entry.sort === 'step' ? [entry.node.id] : [])))));
    const labels = new Map(thread.nodes.map(({ id, label }) => [id, label]));
    const ties = new Map<string, Tie[]>();
    for (const { fromId, toId, role } of thread.edges) {
      const [at, to] = direction === 'down' ? [fromId, toId] : [toId, fromId];
      if (!inView.has(at) || !inView.has(to) || untold.has(role)) continue;
      const known = ties.get(at) ?? [];
      if (!known.some(({ id }) => id === to)) ties.set(at, [...known, { id: to, label: labels.get(to) ?? '' }]);
    }
    return ties;
  }, [thread, chapters, direction]);
}
