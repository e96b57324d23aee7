import { useContext, useId, useRef, useState } from 'react';
import type { ReactNode } from 'react';
import type { StoredFilePurpose } from '../generated/graphql.js';
import { OutboxContext } from '../offline/outbox.js';
import type { FieldBinding } from './entry.js';
import { newId } from './id.js';
import type { ProblemSeen } from './send.js';
import { sendFile, sizeText } from './stored-file.js';
import type { StoredFileSeen } from './stored-file.js';
import { Action } from './words.js';
import fields from './entry.module.css';
import styles from './file-field.module.css';

interface FileFieldProps extends FieldBinding<string> {
  readonly label: string;
  readonly purpose: StoredFilePurpose;
  readonly hint?: ReactNode;
  readonly optional?: boolean;
  readonly wide?: boolean;
  /** As an input's accept: "image/*", ".csv,.txt". */
  readonly accept?: string;
  /** Offers the camera where there is one at hand. */
  readonly camera?: boolean;
  /** Without the server the file is kept on this device and sent before the record that names it, which must go through the outbox too. */
  readonly offline?: boolean;
}

/** A file on its way: under the same id until it is there. */
interface OnItsWay {
  readonly id: string;
  readonly file: File;
  readonly share: number;
  readonly problem: ProblemSeen | null;
  readonly notSent: string | null;
}

/**
 * A file that goes with the record: sent as soon as it is chosen, and the field's value is then the id of the stored
 * file. What was sent stays stored, whether the record is made or not: nothing points at it then.
 */
export function FileField(props: FileFieldProps) {
  const { name, value, onChange, problem, label, purpose, hint, optional, wide, accept, camera = false, offline = false } = props;
  const outbox = useContext(OutboxContext);
  const told = useId();
  const [sending, setSending] = useState<OnItsWay | null>(null);
  const [kept, setKept] = useState<StoredFileSeen | null>(null);
  const [waits, setWaits] = useState<{ readonly id: string; readonly name: string } | null>(null);
  const leaving = useRef<AbortController | null>(null);

  const send = async (file: File, id: string) => {
    leaving.current = new AbortController();
    setSending({ id, file, share: 0, problem: null, notSent: null });
    const sent = await sendFile({
      id, file, purpose, signal: leaving.current.signal,
      onProgress: (share) => setSending((before) => (before?.id === id ? { ...before, share } : before)),
    });
    if (sent.outcome === 'recorded') {
      setSending(null);
      setKept(sent.payload);
      return onChange(sent.payload.id);
    }
    if (sent.outcome === 'not-sent' && offline && outbox && !leaving.current.signal.aborted) {
      const keeping = await outbox.record({ kind: 'file', input: { id, file, purpose } }, `${label}, ${file.name}`);
      if (keeping.outcome === 'kept' || keeping.outcome === 'recorded') {
        setSending(null);
        setWaits({ id, name: file.name });
        return onChange(id);
      }
    }
    setSending((before) => (before?.id !== id ? before : {
      ...before, problem: sent.outcome === 'refused' ? sent.problem : null, notSent: sent.outcome === 'not-sent' ? sent.message : null,
    }));
  };
  const choose = (files: FileList | null) => {
    const file = files?.[0];
    if (file) void send(file, newId());
  };
  const drop = () => {
    leaving.current?.abort();
    setSending(null);
    setKept(null);
    setWaits(null);
    onChange('');
  };
  const shown = kept?.id === value ? kept : null;
  const way = (title: string, more: { capture?: 'environment'; className?: string | undefined }) => (
    <label className={`${styles.way} ${more.className ?? ''}`}>
      <input type="file" name={name} aria-describedby={told} {...(accept ? { accept } : {})} {...(more.capture ? { capture: more.capture, accept: 'image/*' } : {})}
        onChange={(event) => { choose(event.currentTarget.files); event.currentTarget.value = ''; }} />
      <span>{title}</span>
    </label>
  );
  return (
    <fieldset className={`${styles.field} ${wide ? fields.wide : ''}`}>
      <legend className={fields.label}>{label}{optional ? <> <span className={fields.optional}>may stay empty</span></> : null}</legend>
      <div aria-live="polite">
        {shown ? (
          <div className={styles.kept}>
            {shown.mediaType.startsWith('image/') && shown.mediaType !== 'image/tiff' ? <img src={shown.url} alt={`The photo ${shown.name}`} /> : null}
            <a href={shown.url} target="_blank" rel="noreferrer">{shown.name}</a>
            <span className={styles.hash}>{sizeText(shown.sizeBytes)}, SHA-256 {shown.sha256}</span>
            <Action kind="quiet" onClick={drop}>Take another file</Action>
          </div>
        ) : null}
        {waits !== null && waits.id === value && !shown ? (
          <div className={styles.kept}>
            <span>{waits.name} is kept on this device and goes before the record.</span>
            <Action kind="quiet" onClick={drop}>Take another file</Action>
          </div>
        ) : null}
        {sending && !sending.problem && !sending.notSent ? (
          <div className={styles.kept}>
            <span>Sending {sending.file.name}, {sizeText(sending.file.size)}</span>
            <progress className={styles.progress} value={sending.share} max={1} aria-label={`Sent of ${sending.file.name}`} />
            <Action kind="quiet" onClick={drop}>Stop sending</Action>
          </div>
        ) : null}
        {sending?.notSent ? (
          <div className={styles.kept}>
            <p className={fields.problem}>{sending.notSent} {sending.file.name} has not been kept yet.</p>
            <Action kind="plain" onClick={() => void send(sending.file, sending.id)}>Send again</Action>
          </div>
        ) : null}
        {sending?.problem ? <p className={fields.problem}>{sending.problem.message} {sending.problem.remedy}</p> : null}
      </div>
      {!shown && !(waits && waits.id === value) && !(sending && !sending.problem) ? (
        <div className={styles.ways}>
          {way('Choose a file', {})}
          {camera ? way('Take a photo', { capture: 'environment', className: styles.camera }) : null}
        </div>
      ) : null}
      <div id={told}>
        {hint ? <p className={fields.hint}>{hint}</p> : null}
        {problem ? <p className={fields.problem}>{problem.message} {problem.remedy}</p> : null}
      </div>
    </fieldset>
  );
}
