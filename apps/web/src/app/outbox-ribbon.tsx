import { useEffect, useState } from 'react';
import { useProbe } from '../offline/probe.js';
import { opensWithoutServer, useLostSince } from '../offline/reach.js';
import { useOutbox } from '../offline/outbox.js';
import type { Kept } from '../offline/store.js';
import { useNewVersion } from '../offline/shell-update.js';
import { Moment } from '../ui/time.js';
import styles from './outbox-ribbon.module.css';

/** So long an answer is on its way as a rule; a ribbon for every mass would push the page down and up under the hand. */
const ON_ITS_WAY_MS = 1_500;

/** False as long as all of these were kept just now and the server answers; once true, until none waits any more. */
function useLasting(those: readonly Kept[]): boolean {
  const lost = useLostSince() !== null;
  const [, lookAgain] = useState(0);
  const [told, setTold] = useState(false);
  const lasting = those.length > 0 && (told || lost || those.some(({ problem, keptAt }) => problem || Math.abs(Date.now() - Date.parse(keptAt)) >= ON_ITS_WAY_MS));
  if (lasting !== told) setTold(lasting);
  const waits = those.length > 0 && !lasting;
  useEffect(() => {
    if (!waits) return;
    const timer = setInterval(() => lookAgain((before) => before + 1), ON_ITS_WAY_MS / 3);
    return () => clearInterval(timer);
  }, [waits]);
  return lasting;
}

/** Shown only while something waits: how many writes are not sent yet, and the way to them. */
export function OutboxRibbon({ onOpen }: { readonly onOpen: () => void }) {
  const { waiting, onScreen } = useOutbox();
  // What a form on this page is asking about is told there.
  const told = waiting.filter(({ problem, input }) => !(problem && onScreen.has(input.id)));
  const refused = told.filter(({ problem }) => problem).length;
  const lasting = useLasting(told);
  if (!lasting) return null;
  return (
    <aside className={styles.ribbon} aria-label="Not sent yet">
      <p role="status">
        <strong>Not sent yet: {told.length}.</strong> Kept on this device{refused > 0 ? `; ${refused} refused, to be looked at` : ', sent in order when the network is back'}.
      </p>
      <button type="button" onClick={onOpen}>Show them</button>
    </aside>
  );
}

/** Shown while the server gives no answer: that the hand may go on, and what must not be done meanwhile. */
export function LostRibbon() {
  const since = useLostSince();
  useProbe(since !== null);
  if (since === null) return null;
  return (
    <aside className={styles.ribbon} aria-label="No network">
      <p role="status">
        <strong>No answer from the server since <Moment at={since} />.</strong> Go on: what you record is kept on this device.
        {opensWithoutServer() ? null : ' Keep this page open: from this address the browser cannot open it again without the server.'}
      </p>
    </aside>
  );
}

/** A newer version of the pages is here; it is taken when a person says so, never under the hand. */
export function VersionRibbon() {
  const take = useNewVersion();
  if (!take) return null;
  return (
    <aside className={`${styles.ribbon} ${styles.calm}`} aria-label="New version">
      <p role="status">A newer version of these pages is ready. Take it when nothing is half typed; what waits to be sent stays.</p>
      <button type="button" onClick={take}>Take it now</button>
    </aside>
  );
}
