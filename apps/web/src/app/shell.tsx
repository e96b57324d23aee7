import { Suspense, useEffect, useRef, useState } from 'react';
import { Link, Navigate, NavLink, Route, Routes, useLocation } from 'react-router';
import { Nowhere } from '../ui/nowhere.js';
import { Waiting } from '../ui/words.js';
import { Fault } from './fault.js';
import { useNotices } from './notices.js';
import { LostRibbon, OutboxRibbon, VersionRibbon } from './outbox-ribbon.js';
import { QueuePanel } from './queue-panel.js';
import { dailyScreens, screens, ThreadScreen } from './screens.js';
import { PersonMenu } from './person-menu.js';
import { useSession } from './session.js';
import styles from './shell.module.css';

/** The frame of every screen: a ribbon of screen words, the page, and on a phone a second ribbon under the thumb. */
export function Shell() {
  const { me } = useSession();
  const { pathname } = useLocation();
  useFocusOnNewScreen(pathname);
  const screenPath = pathname.split('/')[1] ?? '';
  const [queueOpen, setQueueOpen] = useState(false);
  const openQueue = () => setQueueOpen(true);
  return (
    <>
      <a className={styles.skip} href="#page">Skip to the page</a>
      <header className={`${styles.ribbon} no-print`}>
        <Link to="/due" className={styles.mark}>
          <svg viewBox="0 0 14 28" width="14" height="28" aria-hidden="true"><path d="M7 0v8.5M7 19.5V28" stroke="#fff" strokeWidth="2.4" /><circle cx="7" cy="14" r="4.6" fill="none" stroke="#d9a6e3" strokeWidth="2.6" /></svg>
          <span>Threadleaf</span>
        </Link>
        <nav className={styles.words} aria-label="Screens">
          {screens.map(({ path, word }) => <NavLink key={path} to={`/${path}`}>{word}{path === 'due' ? <NoticeCount /> : null}</NavLink>)}
        </nav>
        <PersonMenu onOpenQueue={openQueue} />
      </header>
      <VersionRibbon />
      <LostRibbon />
      <OutboxRibbon onOpen={openQueue} />
      <QueuePanel opened={queueOpen} onClose={() => setQueueOpen(false)} />
      <main id="page">
        <Fault key={screenPath}>
          <Suspense fallback={<Waiting what="the screen" />}>
            <Routes>
              <Route index element={<Navigate to="/due" replace />} />
              {screens.map(({ path, Screen }) => <Route key={path} path={`${path}/*`} element={<Screen />} />)}
              {ThreadScreen ? <Route path="thread/*" element={<ThreadScreen />} /> : null}
              <Route path="*" element={<Nowhere />} />
            </Routes>
          </Suspense>
        </Fault>
      </main>
      {me ? <ThumbRibbon /> : null}
    </>
  );
}

/** Beside the word Due, where they are read: how many notices wait to be seen. */
function NoticeCount() {
  const { notices } = useNotices();
  if (notices.length === 0) return null;
  return <span className={styles.count} title="Notices not seen yet">{notices.length}<span className={styles.unseen}>{notices.length === 1 ? ' notice' : ' notices'}</span></span>;
}

/** The phone's ribbon: the screens of one's role, and all the others behind one word. */
function ThumbRibbon() {
  const { me } = useSession();
  const [open, setOpen] = useState(false);
  const { pathname } = useLocation();
  useEffect(() => setOpen(false), [pathname]);
  return (
    <div className={`${styles.thumb} no-print`}>
      {open ? (
        <nav className={styles.all} aria-label="All screens" id="all-screens">
          {screens.map(({ path, word, purpose }) => (
            <NavLink key={path} to={`/${path}`}><strong>{word}</strong> <span>{purpose}</span></NavLink>
          ))}
        </nav>
      ) : null}
      <nav className={styles.daily} aria-label="Your screens">
        {dailyScreens(me?.roles ?? []).map(({ path, word }) => <NavLink key={path} to={`/${path}`}>{word}{path === 'due' ? <NoticeCount /> : null}</NavLink>)}
        <button type="button" aria-expanded={open} aria-controls="all-screens" onClick={() => setOpen(!open)}>{open ? 'Close' : 'All'}</button>
      </nav>
    </div>
  );
}

/** A person who listens to the page hears the new page's heading, not the ribbon again. */
function useFocusOnNewScreen(pathname: string): void {
  const before = useRef(pathname);
  useEffect(() => {
    if (before.current === pathname) return;
    before.current = pathname;
    window.scrollTo(0, 0);
    document.querySelector<HTMLElement>('main h1')?.focus({ preventScroll: true });
  }, [pathname]);
}
