import { useQuery } from '@apollo/client/react';
import { useEffect, useRef, useState } from 'react';
import { Link, useLocation } from 'react-router';
import { useOutbox } from '../offline/outbox.js';
import { roleWord } from '../ui/roles.js';
import { AboutServer } from './documents.js';
import { useSession } from './session.js';
import styles from './person-menu.module.css';

/** Who is signed in and where; the way to another lab and out. A plain disclosure: it works with any keyboard. */
export function PersonMenu({ onOpenQueue }: { readonly onOpenQueue: () => void }) {
  const { waiting, aside } = useOutbox();
  const { me, signOut, enterLab } = useSession();
  const { data } = useQuery(AboutServer);
  const [open, setOpen] = useState(false);
  const root = useRef<HTMLDivElement>(null);
  const { pathname } = useLocation();
  useEffect(() => setOpen(false), [pathname]);
  useEffect(() => {
    if (!open) return;
    const away = (event: Event) => {
      if (event instanceof KeyboardEvent ? event.key === 'Escape' : !root.current?.contains(event.target as Node)) setOpen(false);
    };
    document.addEventListener('pointerdown', away);
    document.addEventListener('keydown', away);
    return () => {
      document.removeEventListener('pointerdown', away);
      document.removeEventListener('keydown', away);
    };
  }, [open]);
  if (!me) return null;
  const others = me.labs.filter((lab) => lab.id !== me.lab.id);
  return (
    <div className={styles.person} ref={root}>
      <button type="button" className={styles.opener} aria-expanded={open} onClick={() => setOpen(!open)}>
        <span className={styles.name}>{me.person.displayName}</span>
        <span className={styles.lab}>{me.lab.name}</span>
      </button>
      {open ? (
        <div className={styles.sheet}>
          <p><strong>{me.person.displayName}</strong><br />{me.email}<br />{me.roles.map(roleWord).join(', ')} in {me.lab.name}</p>
          {data?.about.demo ? <p>This lab was made by a simulator: its data are invented.</p> : null}
          {others.map((lab) => <button key={lab.id} type="button" onClick={() => void enterLab(lab.id)}>Enter {lab.name}</button>)}
          <Link to="/lab">My password and second factor</Link>
          <button type="button" onClick={() => { setOpen(false); onOpenQueue(); }}>{notSentText(waiting.length, aside.length)}</button>
          {waiting.length > 0 ? <p>What is not sent yet stays here when you sign out, and goes when you sign in again.</p> : null}
          <button type="button" onClick={() => void signOut()}>Sign out</button>
          {data ? <p className={styles.version}>Code version {data.about.codeVersion}</p> : null}
        </div>
      ) : null}
    </div>
  );
}

const notSentText = (waiting: number, aside: number): string => `Not sent yet: ${waiting === 0 ? 'nothing' : waiting}${aside > 0 ? `, set aside: ${aside}` : ''}`;
