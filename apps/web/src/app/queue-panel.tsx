import { useState } from 'react';
import { useOutbox } from '../offline/outbox.js';
import { queueFile } from '../offline/queue-file.js';
import type { Kept } from '../offline/store.js';
import { correctableIn, momentOf } from '../offline/writes.js';
import { writesText } from '../ui/kept-for-whom.js';
import { Line, Lines } from '../ui/page.js';
import { saveText } from '../ui/save-file.js';
import { momentNow, Moment } from '../ui/time.js';
import { Action, Dialog, Flags, Notice } from '../ui/words.js';
import styles from './queue-panel.module.css';

interface QueuePanelProps {
  readonly opened: boolean;
  readonly onClose: () => void;
}

/** All that this device keeps and the server has not recorded: what waits, what was refused, what a person set aside. */
export function QueuePanel({ opened, onClose }: QueuePanelProps) {
  const { waiting, aside, others, sendAll, saved } = useOutbox();
  const open = waiting.filter(({ problem }) => !problem);
  const refused = waiting.filter(({ problem }) => problem);
  const own = [...waiting, ...aside];
  const save = () => {
    saveText(`threadleaf-not-sent-${momentNow().slice(0, 16).replace(/[-:]/g, '')}.json`, queueFile(own));
    void saved(own);
  };
  return (
    <Dialog title="Not sent yet" opened={opened} onClose={onClose}>
      {own.length === 0 ? <p>Nothing of yours waits on this device: everything has been sent.</p> : null}
      {open.length > 0 ? (
        <section className={styles.part} aria-label="Waits to be sent">
          <h3>Waits to be sent, in this order</h3>
          <Lines label="Writes that wait, in the order of capture">
            {open.map((kept, index) => <Line key={kept.order} margin={<>{index + 1}. <CapturedAt kept={kept} /></>}><strong>{kept.label}</strong><Since kept={kept} /></Line>)}
          </Lines>
          <div><Action kind="plain" onClick={() => void sendAll()}>Send now</Action></div>
        </section>
      ) : null}
      {refused.length > 0 ? (
        <section className={styles.part} aria-label="Refused">
          <h3>Refused: you decide</h3>
          <Lines label="Writes that were refused, in the order of capture">{refused.map((kept) => <RefusedLine key={kept.order} kept={kept} />)}</Lines>
        </section>
      ) : null}
      {aside.length > 0 ? (
        <section className={styles.part} aria-label="Set aside">
          <h3>Set aside</h3>
          <p>Not recorded, and not lost: it stays on this device until you have saved it as a file and remove it.</p>
          <Lines label="Writes set aside">{aside.map((kept) => <AsideLine key={kept.order} kept={kept} />)}</Lines>
        </section>
      ) : null}
      {others.length > 0 ? (
        <section className={styles.part} aria-label="Of others">
          <h3>Of others, or for another lab</h3>
          <ul>{others.map(({ personName, labName, count }) => <li key={`${personName} ${labName}`}>{writesText(count)} of {personName} for {labName}: sent when that person signs in here, in that lab.</li>)}</ul>
        </section>
      ) : null}
      {own.length > 0 ? <div><Action kind="plain" onClick={save}>Save all of these as a file</Action></div> : null}
    </Dialog>
  );
}

const CapturedAt = ({ kept }: { readonly kept: Kept }) => <Moment at={momentOf(kept) ?? kept.keptAt} />;

function Since({ kept }: { readonly kept: Kept }) {
  return <span>by {kept.personName || 'you'}, waiting since <Moment at={kept.keptAt} relative />{kept.faults ? `; the server failed on it ${kept.faults === 1 ? 'once' : `${kept.faults} times`}` : ''}</span>;
}

function RefusedLine({ kept }: { readonly kept: Kept }) {
  const { sendAnew, setAside } = useOutbox();
  const [texts, setTexts] = useState<Readonly<Record<string, string>>>({});
  const [reason, setReason] = useState<string | null>(null);
  const { problem, flags = [] } = kept;
  if (!problem) return null;
  const asks = flags.length > 0;
  const fields = correctableIn(kept, problem, asks);
  const complete = fields.every(({ name, value }) => (texts[name] ?? value).trim() !== '');
  return (
    <Line margin={<CapturedAt kept={kept} />}>
      <strong>{kept.label}</strong>
      <Since kept={kept} />
      <Notice tone={asks ? 'ask' : 'alarm'} title={asks ? 'Not recorded: this is asked first.' : problem.message}>{asks ? <Flags flags={flags} /> : problem.remedy}</Notice>
      {reason === null ? (
        <>
          {fields.map(({ name, label, value }) => (
            <TextLine key={name} label={label} value={texts[name] ?? value} onChange={(text) => setTexts((before) => ({ ...before, [name]: text }))} />
          ))}
          <div className={styles.acts}>
            <Action onClick={() => void sendAnew(kept, trimmed(fields.map(({ name, value }) => [name, texts[name] ?? value])))} disabled={!complete}>{fields.length > 0 ? 'Send it with this' : 'Send it again'}</Action>
            <Action kind="quiet" onClick={() => setReason('')}>Set it aside</Action>
          </div>
        </>
      ) : (
        <>
          <TextLine label="Why it is set aside" value={reason} onChange={setReason} />
          <div className={styles.acts}>
            <Action kind="plain" onClick={() => void setAside(kept, reason.trim())} disabled={reason.trim() === ''}>Set aside with this reason</Action>
            <Action kind="quiet" onClick={() => setReason(null)}>Back</Action>
          </div>
        </>
      )}
    </Line>
  );
}

const trimmed = (pairs: readonly (readonly [string, string])[]): Readonly<Record<string, string>> => Object.fromEntries(pairs.map(([name, text]) => [name, text.trim()]));

function AsideLine({ kept }: { readonly kept: Kept }) {
  const { takeBack, remove } = useOutbox();
  return (
    <Line margin={<CapturedAt kept={kept} />}>
      <strong>{kept.label}</strong>
      {kept.aside ? <span>Set aside <Moment at={kept.aside.at} />: “{kept.aside.reason}”</span> : null}
      {kept.problem ? <span>The server had said: {kept.problem.message}</span> : null}
      <div className={styles.acts}>
        <Action kind="plain" onClick={() => void takeBack(kept)}>Send it after all</Action>
        {kept.savedAt ? <Action kind="quiet" onClick={() => void remove(kept)}>Remove it, the file holds it</Action> : null}
      </div>
    </Line>
  );
}

interface TextLineProps {
  readonly label: string;
  readonly value: string;
  readonly onChange: (text: string) => void;
}

function TextLine({ label, value, onChange }: TextLineProps) {
  return <label className={styles.text}>{label}<input value={value} onChange={(event) => onChange(event.currentTarget.value)} /></label>;
}
