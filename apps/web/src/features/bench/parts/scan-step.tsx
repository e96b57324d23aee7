import { useId, useState } from 'react';
import type { FormEvent } from 'react';
import { useKeyBurst } from '../../../listening/key-burst.js';
import { Action, Notice } from '../../../ui/words.js';
import styles from './bench.module.css';
import type { Run } from './run.js';
import { discScanned, wasMisread } from './scan.js';
import { sound } from './sound.js';

type Disc = Run['discs'][number];

interface ScanStepProps {
  readonly run: Run;
  readonly expected: Disc;
  /** The label as it was scanned; null where the person read it with their own eyes. */
  readonly onRight: (scannedText: string | null) => void;
  readonly onOther: (discId: string) => void;
}

/** Scan, then weigh: the hand goes on only with the disc that is expected, or says that it takes another. */
export function ScanStep({ run, expected, onRight, onOther }: ScanStepProps) {
  const id = useId();
  const [text, setText] = useState('');
  const [wrong, setWrong] = useState<{ readonly text: string; readonly disc: Disc | null } | null>(null);
  const look = (scanned: string) => {
    if (scanned.trim() === '') return;
    const disc = discScanned(run.discs, scanned);
    setText('');
    if (disc?.id === expected.id) return onRight(scanned.trim());
    sound('asks');
    setWrong({ text: scanned.trim(), disc });
  };
  // With gloves on nobody clicks into a field first: a scanner is heard wherever the focus is.
  useKeyBurst('scan', (scanned) => {
    look(scanned);
    return true;
  });
  const submit = (event: FormEvent) => {
    event.preventDefault();
    look(text);
  };
  return (
    <form onSubmit={submit} aria-label={`Scan ${expected.label}`} className={styles.scan} noValidate>
      <div>
        <label htmlFor={id} className={styles.largeLabel}>Scan the label of {expected.label}</label>
        <div className={styles.window} data-problem={wrong ? true : undefined}>
          <input id={id} name="scan" className={`${styles.number} ${styles.label}`} value={text} onChange={(event) => setText(event.currentTarget.value)}
            autoComplete="off" autoFocus spellCheck={false} autoCapitalize="off" aria-describedby={wrong ? `${id}-wrong` : undefined} />
        </div>
      </div>
      <div id={`${id}-wrong`}>{wrong ? <WrongScan scanned={wrong.disc?.label ?? wrong.text} known={wrong.disc !== null} expected={expected.label} onOther={wrong.disc ? () => onOther(wrong.disc!.id) : null} /> : null}</div>
      <div className={styles.scanActions}>
        <Action type="submit" disabled={text.trim() === ''}>Look at this label</Action>
        <Action kind="quiet" onClick={() => onRight(null)}>No scanner: I read {expected.label} on it</Action>
      </div>
    </form>
  );
}

interface WrongScanProps {
  readonly scanned: string;
  /** It is a disc of this run. */
  readonly known: boolean;
  readonly expected: string;
  readonly onOther: (() => void) | null;
}

/** Stops the hand: what was expected, what was scanned, what to do. */
export function WrongScan({ scanned, known, expected, onOther }: WrongScanProps) {
  return (
    <Notice tone="alarm" title={known ? `This is ${scanned}. Expected: ${expected}.` : wasMisread(scanned) ? `“${scanned}” was misread: its check character does not fit. Expected: ${expected}.` : `“${scanned}” is no disc of this run. Expected: ${expected}.`}>
      <p>Put it back and take {expected}{onOther ? ', or weigh this one now' : ''}.</p>
      {onOther ? <p><Action kind="plain" onClick={onOther}>Weigh {scanned} instead</Action></p> : null}
    </Notice>
  );
}
