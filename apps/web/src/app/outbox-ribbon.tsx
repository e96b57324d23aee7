import { useState } from 'react';
import { useOutbox } from '../offline/outbox.js';
import type { Kept } from '../offline/store.js';
import { Line, Lines } from '../ui/page.js';
import { Moment } from '../ui/time.js';
import { Action, Dialog, Flags, Notice } from '../ui/words.js';
import styles from './outbox-ribbon.module.css';

/** Shown only while something waits: how many writes are not sent yet, and what to do about those refused. */
export function OutboxRibbon() {
  const { waiting, sendAll } = useOutbox();
  const [open, setOpen] = useState(false);
  const refused = waiting.filter((kept) => kept.problem).length;
  if (waiting.length === 0 && !open) return null;
  return (
    <aside className={styles.ribbon} aria-label="Not sent yet">
      <p role="status">
        <strong>Not sent yet: {waiting.length}.</strong> Kept on this computer{refused > 0 ? `; ${refused} refused, to be looked at` : ', sent in order when the network is back'}.
      </p>
      <button type="button" onClick={() => setOpen(true)}>Show them</button>
      <Dialog title="Not sent yet" opened={open} onClose={() => setOpen(false)}>
        {waiting.length === 0 ? <p>Everything has been sent.</p> : (
          <>
            <Lines label="Writes not sent yet, in the order of capture">{waiting.map((kept) => <KeptLine key={kept.order} kept={kept} />)}</Lines>
            <div><Action kind="plain" onClick={() => void sendAll()}>Send now</Action></div>
          </>
        )}
      </Dialog>
    </aside>
  );
}

function KeptLine({ kept }: { readonly kept: Kept }) {
  const { answer, discard } = useOutbox();
  const [text, setText] = useState('');
  const [sure, setSure] = useState(false);
  const asks = kept.kind === 'weighing' && (kept.flags?.length ?? 0) > 0;
  return (
    <Line margin={<Moment at={kept.input.observedAt} />}>
      <strong>{kept.label}</strong>
      {kept.problem ? (
        <>
          {asks ? <p>Not recorded: it asks first.</p> : <Notice tone="alarm" title={kept.problem.message}>{kept.problem.remedy}</Notice>}
          {asks ? (
            <>
              <Flags flags={kept.flags ?? []} />
              <label className={styles.answer}>Answer to the flags<input value={text} onChange={(event) => setText(event.currentTarget.value)} /></label>
            </>
          ) : null}
          <div className={styles.acts}>
            {asks ? <Action onClick={() => void answer(kept, text)} disabled={text.trim() === ''}>Send with this answer</Action> : null}
            {sure ? <Action kind="plain" onClick={() => void discard(kept)}>Yes, discard it for good</Action> : <Action kind="quiet" onClick={() => setSure(true)}>Discard this write</Action>}
          </div>
        </>
      ) : <span>Waits for the network.</span>}
    </Line>
  );
}
