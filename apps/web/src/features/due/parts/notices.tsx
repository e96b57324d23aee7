import { useLazyQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import { useNotices } from '../../../app/notices.js';
import { Line, Lines, Section, Strip } from '../../../ui/page.js';
import { recordPath } from '../../../ui/paths.js';
import { usePayload } from '../../../ui/send.js';
import { Moment, relativeText, useNow } from '../../../ui/time.js';
import { Action, Notice } from '../../../ui/words.js';
import { MarkNoticeSeen, SeenNotices } from '../documents.js';
import styles from './notices.module.css';

interface Told {
  readonly id: string;
  readonly text: string;
  readonly subject: { readonly kind: string; readonly id: string; readonly label: string };
  readonly toldAt: string;
}

/** What the person should know, until it is marked as seen; then it can still be read again. */
export function Notices() {
  const { notices, refetch } = useNotices();
  const [askSeen, { data: seen }] = useLazyQuery(SeenNotices, { fetchPolicy: 'network-only' });
  const send = usePayload();
  const [refused, setRefused] = useState(false);
  const [shown, setShown] = useState(false);
  if (notices.length === 0 && !shown) {
    return <Strip><SeenToggle shown={false} onToggle={() => { setShown(true); void askSeen(); }} /></Strip>;
  }
  const mark = async (ids: readonly string[]) => {
    const sent = await send(MarkNoticeSeen, { ids: [...ids] });
    setRefused(sent.outcome !== 'recorded');
    await refetch();
    if (shown) await askSeen();
  };
  return (
    <Section title="Notices" margin={notices.length === 0 ? null : notices.length === 1 ? 'one to see' : `${notices.length} to see`} actions={
      notices.length > 1 ? <Action kind="plain" onClick={() => void mark(notices.map(({ id }) => id))}>Mark all as seen</Action> : null
    }>
      {refused ? <Notice tone="alarm" title="Not marked: no answer came.">Look whether the network is there, then mark it again.</Notice> : null}
      {notices.length === 0 ? <p>All notices are seen.</p> : null}
      <Lines label="Notices to see">
        {notices.map((notice) => <NoticeLine key={notice.id} notice={notice} onSeen={() => void mark([notice.id])} />)}
      </Lines>
      <SeenToggle shown={shown} onToggle={() => { setShown(!shown); if (!shown) void askSeen(); }} />
      {shown && seen ? (
        <Lines label="Notices seen before">
          {seen.notices.map((notice) => <NoticeLine key={notice.id} notice={notice} />)}
          {seen.notices.length === 0 ? <li>None yet.</li> : null}
        </Lines>
      ) : null}
    </Section>
  );
}

function SeenToggle({ shown, onToggle }: { readonly shown: boolean; readonly onToggle: () => void }) {
  return <div className={styles.toggle}><Action kind="quiet" onClick={onToggle}>{shown ? 'Hide notices seen before' : 'Show notices seen before'}</Action></div>;
}

function NoticeLine({ notice, onSeen }: { readonly notice: Told; readonly onSeen?: () => void }) {
  const now = useNow(30);
  return (
    <Line margin={<><Moment at={notice.toldAt} /><br />{relativeText(notice.toldAt, now)}</>}>
      <p>{notice.text}</p>
      <div className={styles.acts}>
        <Link to={recordPath(notice.subject.kind, notice.subject.id)}>Look at {notice.subject.label}</Link>
        {onSeen ? <Action kind="plain" onClick={onSeen}>Mark as seen</Action> : null}
      </div>
    </Line>
  );
}
