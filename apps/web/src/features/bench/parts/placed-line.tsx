import { useEffect, useState } from 'react';
import { capturedAs, type Said, type Speaking } from '../../../listening/said.js';
import { useLines } from '../../../listening/use-lines.js';
import { RawLine } from '../../../ui/words.js';
import styles from './bench.module.css';
import { takesAtOnce } from './take-at-once.js';

interface PlacedOptions {
  readonly instrument: Speaking;
  /** Name of the number field. */
  readonly field: string;
  readonly text: string;
  readonly unit: string;
  readonly place: (said: Said) => void;
  readonly empty: () => void;
  readonly submit: () => Promise<void>;
  /** Something asks first, or a write is on its way: a line may stand in the field, but is not recorded by itself. */
  readonly asks: boolean;
  readonly sending: boolean;
  readonly onOther?: (text: string) => boolean;
}

export interface Placed {
  /** The line that stands in the field, as long as nobody typed over it. */
  readonly said: Said | null;
  readonly notTaken: string | null;
  readonly captured: ReturnType<typeof capturedAs>;
}

/** A stable line stands in an empty field, or takes the place of an earlier line; what a hand typed stays. */
export function usePlacedLine({ instrument, field, text, unit, place, empty, submit, asks, sending, onOther }: PlacedOptions): Placed {
  const [said, setSaid] = useState<Said | null>(null);
  const [notTaken, setNotTaken] = useState<string | null>(null);
  const [toRecord, setToRecord] = useState<Said | null>(null);
  useLines(instrument, {
    field,
    onSaid: (line) => {
      if (sending || (line.way !== 'keys' && text.trim() !== '' && text !== said?.valueText)) return;
      setSaid(line);
      setNotTaken(null);
      place(line);
      // A window that nobody looks at records nothing by itself.
      if (takesAtOnce() && !asks && document.visibilityState === 'visible') setToRecord(line);
    },
    onNotTaken: (why) => {
      setNotTaken(why);
      empty();
    },
    ...(onOther ? { onOther } : {}),
  });
  useEffect(() => {
    if (!toRecord || text !== toRecord.valueText || unit !== toRecord.unit) return;
    setToRecord(null);
    void submit();
  }, [toRecord, text, unit, submit]);
  const standing = said && said.valueText === text && said.unit === unit ? said : null;
  return { said: standing, notTaken: text === '' ? notTaken : null, captured: capturedAs(said, text.trim(), unit) };
}

const ways = { heard: 'heard by', serial: 'on this computer’s serial line', keys: 'as a keyboard' } as const;

/** Where the number in the field comes from, or why none was taken. */
export function PlacedTold({ placed: { said, notTaken }, instrument }: { readonly placed: Placed; readonly instrument: Speaking }) {
  return (
    <p className={`${styles.wide} ${styles.placed}`} role="status">
      {said ? <>{instrument.label} says <RawLine>{said.rawLine}</RawLine> {said.way === 'heard' && said.through ? `${ways.heard} ${said.through}` : said.way === 'heard' ? '' : ways[said.way]}. <strong>Enter records it.</strong></> : notTaken}
    </p>
  );
}
