import { useQuery } from '@apollo/client/react';
import { Link } from 'react-router';
import type { DueListQuery } from '../../generated/graphql.js';
import { useLive } from '../../ui/live.js';
import { Line, Lines, Page, Section, Strip } from '../../ui/page.js';
import { recordPath } from '../../ui/paths.js';
import { roleWord } from '../../ui/roles.js';
import { useInAddress } from '../../ui/search.js';
import { lateText, Moment, relativeText, useNow } from '../../ui/time.js';
import { Empty, Failed, Waiting } from '../../ui/words.js';
import { DueList } from './documents.js';
import { Elsewhere } from './parts/elsewhere.js';
import { Notices } from './parts/notices.js';
import styles from './page.module.css';

type Item = DueListQuery['due'][number];

interface Group {
  readonly title: string;
  readonly items: readonly Item[];
}

function grouped(items: readonly Item[], now: number): readonly Group[] {
  const endOfToday = new Date(now).setHours(24, 0, 0, 0);
  const at = (item: Item) => new Date(item.dueAt).getTime();
  return [
    { title: 'Overdue', items: items.filter((item) => at(item) < now) },
    { title: 'Today', items: items.filter((item) => at(item) >= now && at(item) < endOfToday) },
    { title: 'Later', items: items.filter((item) => at(item) >= endOfToday) },
  ].filter((group) => group.items.length > 0);
}

/** What must happen by when, soonest first, each line a way to where one acts. */
export function Screen() {
  const now = useNow(30);
  const [whose, setWhose] = useInAddress('whose');
  const everyone = whose === 'all';
  const { data, error, refetch } = useQuery(DueList);
  useLive(refetch);
  const mine = (item: Item) => everyone || item.mine;
  const groups = grouped((data?.due ?? []).filter(mine), now);
  return (
    <Page title="Due" lead="What must happen by when, soonest first." actions={
      <label className={styles.everyone}><input type="checkbox" checked={everyone} onChange={(event) => setWhose(event.currentTarget.checked ? 'all' : '')} /> Show what others act on too</label>
    }>
      <Notices />
      {!data && error ? <Strip><Failed what="what is due" again={() => void refetch()} /></Strip> : null}
      {!data && !error ? <Strip><Waiting what="what is due" /></Strip> : null}
      {data && groups.length === 0 ? (
        <Strip>
          <Empty title={everyone ? 'Nothing is due.' : 'Nothing is due for your roles.'}>
            <p>Open runs, oven cycles, instrument checks, reviews and trips come here by themselves. <Link to="/bench">Open a drying run</Link> or <Link to="/samples">record a disc</Link>.</p>
          </Empty>
        </Strip>
      ) : null}
      {groups.map(({ title, items }) => (
        <Section key={title} title={title} margin={items.length === 1 ? 'one thing' : `${items.length} things`}>
          <Lines label={title}>
            {items.map((item) => <DueLine key={`${item.kind} ${item.subject.id}`} item={item} now={now} />)}
          </Lines>
        </Section>
      ))}
      <Elsewhere items={(data?.due ?? []).filter((item) => item.mine)} now={now} />
    </Page>
  );
}

function DueLine({ item, now }: { readonly item: Item; readonly now: number }) {
  const late = new Date(item.dueAt).getTime() < now;
  return (
    <Line margin={<span className={late ? styles.late : undefined}><Moment at={item.dueAt} /><br />{late ? lateText(item.dueAt, now) : relativeText(item.dueAt, now)}</span>}>
      <Link className={styles.what} to={recordPath(item.subject.kind, item.subject.id)}>{item.what}</Link>
      <span className={styles.who}>for {item.roles.map(roleWord).join(', ')}</span>
    </Line>
  );
}

