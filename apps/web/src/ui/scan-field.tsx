import { useApolloClient } from '@apollo/client/react';
import { useRef, useState } from 'react';
import { codeKey, readScan } from '#libs/label';
import type { ScanTextQuery } from '../generated/graphql.js';
import { CameraScan } from './camera-scan.js';
import { TextField } from './fields.js';
import { kindWord } from './kind-words.js';
import { Action } from './words.js';
import { ScanText } from './scan-documents.js';
import styles from './scan-field.module.css';

export type ScannedThing = Pick<ScanTextQuery['scan']['found'][number], 'kind' | 'id' | 'label'>;

interface ScanFieldProps {
  readonly label: string;
  readonly hint?: string;
  /** Kinds that mean something here; others are told and not taken. */
  readonly kinds: readonly string[];
  readonly onFound: (thing: ScannedThing) => void;
  readonly autoFocus?: boolean;
  /** Things that this device knows without the server: looked through first. */
  readonly known?: readonly ScannedThing[];
}

const wordOf = (kind: string): string => `a ${kindWord(kind)}`;

/** By code or label; a label in either case, as a hand types it. */
export function foundAmong<T extends ScannedThing>(known: readonly T[], text: string): readonly T[] {
  const { label, key } = readScan(text);
  const called = known.filter((thing) => thing.label.toLowerCase() === label.toLowerCase());
  return called.length > 0 || key === null ? called : known.filter(({ id }) => codeKey(id) === key);
}

/**
 * A field for a scanner that types, or a hand: Enter looks up the code or label, the field empties for the next one. A
 * misread code, an unknown one and one of another kind are told in words.
 */
export function ScanField({ label, hint, kinds, onFound, autoFocus = false, known = [] }: ScanFieldProps) {
  const client = useApolloClient();
  const [text, setText] = useState('');
  const [told, setTold] = useState<string | null>(null);
  const [choice, setChoice] = useState<readonly ScannedThing[]>([]);
  // A scanner is faster than the network: scans are looked up one after the other, none is lost.
  const turn = useRef<Promise<void>>(Promise.resolve());

  const take = (thing: ScannedThing) => {
    setChoice([]);
    setTold(null);
    onFound(thing);
  };
  const lookUp = async (scanned: string) => {
    const here = foundAmong(known, scanned);
    if (here.length === 1) return take(here[0]!);
    try {
      const { data } = await client.query({ query: ScanText, variables: { text: scanned } });
      const found = data?.scan.found ?? [];
      const fitting = found.filter(({ kind }) => kinds.includes(kind));
      if (fitting.length === 1) return take(fitting[0]!);
      setChoice(fitting);
      if (fitting.length > 1) setTold(`${scanned} names ${fitting.length} things: choose one.`);
      else if (data?.scan.misread) setTold(`${scanned} was misread: its check character does not fit. Scan or type it again.`);
      else if (found.length > 0) setTold(`${found[0]!.label} is ${wordOf(found[0]!.kind)}; here ${kinds.map(wordOf).join(' or ')} is wanted.`);
      else setTold(`Nothing in this lab is called ${scanned}.`);
    } catch {
      setTold(`No answer came from the server${known.length > 0 ? `, and ${scanned} is not among what this device holds` : ''}. ${scanned} was not taken: scan it again.`);
    }
  };
  const enter = (given: string) => {
    const scanned = given.trim();
    if (scanned === '') return;
    setText('');
    turn.current = turn.current.then(() => lookUp(scanned));
  };
  return (
    <form className={styles.scan} role="search" aria-label={label} onSubmit={(event) => { event.preventDefault(); enter(text); }}>
      <div className={styles.line}>
        <TextField name="scan" label={label} hint={hint ?? 'Scan the code, or type it or the label, then Enter'} value={text} onChange={setText} problem={null} unmarked autoFocus={autoFocus} />
        <Action kind="plain" type="submit">Take it</Action>
      </div>
      <CameraScan onText={enter} />
      <div role="alert">{told ? <p className={styles.told}>{told}</p> : null}</div>
      {choice.length > 0 ? (
        <ul className={styles.choice}>{choice.map((thing) => <li key={thing.id}><Action kind="plain" onClick={() => take(thing)}>{thing.label}, {wordOf(thing.kind)}</Action></li>)}</ul>
      ) : null}
    </form>
  );
}
