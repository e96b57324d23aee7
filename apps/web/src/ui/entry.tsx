import { useCallback, useRef, useState } from 'react';
import type { FormEvent, ReactNode } from 'react';
import { newId } from './id.js';
import type { ProblemSeen, Sent } from './send.js';
import { momentNow } from './time.js';
import { Action, Notice } from './words.js';
import styles from './entry.module.css';

export type EntryValues = Readonly<Record<string, string | boolean | readonly string[]>>;

export interface FieldBinding<T> {
  readonly name: string;
  readonly value: T;
  readonly onChange: (value: T) => void;
  readonly problem: ProblemSeen | null;
}

export interface Entry<V extends EntryValues> {
  readonly values: V;
  /** The id that this entry will be recorded under; stays the same until it is recorded, so that a retry is the same write. */
  readonly id: string;
  readonly set: <K extends keyof V>(name: K, value: V[K]) => void;
  /** Binds a field by its name in the input; a problem with that field is shown at it. */
  readonly field: <K extends keyof V & string>(name: K) => FieldBinding<V[K]>;
  readonly problem: ProblemSeen | null;
  /** A problem that no field on the screen carries. */
  readonly looseProblem: ProblemSeen | null;
  readonly notSent: string | null;
  readonly sending: boolean;
  readonly submit: () => Promise<void>;
  readonly clear: (values?: V) => void;
}

interface EntryOptions<V, P> {
  readonly initial: V;
  /** `at` is the moment this content was first sent under this id (RFC 3339): a retry says the same moment. */
  readonly send: (values: V, id: string, at: string) => Promise<Sent<P>>;
  readonly onRecorded?: (payload: P) => void;
  readonly onRefused?: (problem: ProblemSeen, payload: P | null) => void;
  /** Keep what was typed after it was recorded; the default empties the fields. */
  readonly keep?: boolean;
}

/** "input.mapping.massUnit" and "massUnit" name the same field of a form. */
const lastName = (path: string): string => path.slice(path.lastIndexOf('.') + 1);

/** The state of one form: what was typed, its id, and what became of it. Nothing typed is lost on a refusal or a lost network. */
export function useEntry<V extends EntryValues, P>({ initial, send, onRecorded, onRefused, keep = false }: EntryOptions<V, P>): Entry<V> {
  const [values, setValues] = useState(initial);
  const [id, setId] = useState(newId);
  const [problem, setProblem] = useState<ProblemSeen | null>(null);
  const [notSent, setNotSent] = useState<string | null>(null);
  const [sending, setSending] = useState(false);
  const bound = useRef(new Set<string>());
  const firstSentAt = useRef<string | null>(null);

  const set = useCallback(<K extends keyof V>(name: K, value: V[K]) => {
    firstSentAt.current = null;
    setValues((before) => ({ ...before, [name]: value }));
    setProblem((before) => (before?.field && lastName(before.field) === name ? null : before));
  }, []);

  const clear = useCallback((next?: V) => {
    setValues(next ?? initial);
    setId(newId());
    setProblem(null);
    setNotSent(null);
  }, [initial]);

  const submit = async () => {
    if (sending) return;
    setSending(true);
    setProblem(null);
    setNotSent(null);
    firstSentAt.current ??= momentNow();
    const sent = await send(values, id, firstSentAt.current).finally(() => setSending(false));
    if (sent.outcome === 'not-sent') return setNotSent(sent.message);
    firstSentAt.current = null;
    if (sent.outcome === 'recorded') {
      setId(newId());
      if (!keep) setValues(initial);
      return onRecorded?.(sent.payload);
    }
    setProblem(sent.problem);
    // The id belongs to what was written first; what is on the screen now is another record.
    if (sent.problem.code === 'REPLAY_MISMATCH') setId(newId());
    onRefused?.(sent.problem, sent.payload);
  };

  const problemOf = (name: string) => (problem?.field && lastName(problem.field) === name ? problem : null);
  const field = <K extends keyof V & string>(name: K): FieldBinding<V[K]> => {
    bound.current.add(name);
    return { name, value: values[name], onChange: (value) => set(name, value), problem: problemOf(name) };
  };
  const looseProblem = problem && !(problem.field && bound.current.has(lastName(problem.field))) ? problem : null;
  return { values, id, set, field, problem, looseProblem, notSent, sending, submit, clear };
}

interface EntryFormProps<V extends EntryValues> {
  readonly entry: Entry<V>;
  /** What the button does, as a verb: "Record weighing". */
  readonly action: string;
  readonly label?: string;
  readonly onCancel?: () => void;
  /** Beside the main button. */
  readonly beside?: ReactNode;
  readonly disabled?: boolean;
  readonly children: ReactNode;
}

/** A form around an entry: fields, the problem no field carries, the lost network, and one button with a verb. */
export function EntryForm<V extends EntryValues>({ entry, action, label, onCancel, beside, disabled = false, children }: EntryFormProps<V>) {
  const submit = (event: FormEvent) => {
    event.preventDefault();
    void entry.submit();
  };
  return (
    <form className={styles.form} onSubmit={submit} aria-label={label ?? action} noValidate>
      <div className={styles.fields}>{children}</div>
      <EntryOutcome entry={entry} />
      <div className={styles.actions}>
        <Action type="submit" waiting={entry.sending} disabled={disabled}>{entry.notSent ? 'Send again' : action}</Action>
        {onCancel ? <Action kind="quiet" onClick={onCancel}>Cancel</Action> : null}
        {beside}
      </div>
    </form>
  );
}

/** What stands against an entry, where no field can carry it. */
export function EntryOutcome<V extends EntryValues>({ entry }: { readonly entry: Entry<V> }) {
  return (
    <div aria-live="polite">
      {entry.looseProblem ? <Notice tone="alarm" title={entry.looseProblem.message}>{entry.looseProblem.remedy}</Notice> : null}
      {entry.notSent ? (
        <Notice tone="ask" title="Not sent yet">
          {entry.notSent} What you typed is kept here. Send it again as soon as the network is back: it has its id already, so it cannot be recorded twice.
        </Notice>
      ) : null}
    </div>
  );
}

/** An exact decimal as the contract wants it: a comma typed for the point becomes one; anything else is left for the server to judge. */
export const decimalText = (text: string): string => text.trim().replace(',', '.');

/** Text of a field that may stay empty. */
export const orNull = (text: string): string | null => (text.trim() === '' ? null : text.trim());
