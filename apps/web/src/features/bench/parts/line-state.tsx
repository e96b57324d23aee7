import { useState, useSyncExternalStore } from 'react';
import { Link } from 'react-router';
import type { Speaking } from '../../../listening/said.js';
import { serialReaderOf, type SerialReader, type SerialState } from '../../../listening/serial-reader.js';
import { Action, RawLine } from '../../../ui/words.js';
import styles from './bench.module.css';
import { takeAtOnce, takesAtOnce } from './take-at-once.js';

/** Whether the instrument of this step speaks to this screen, and what may be done about it. */
export function LineState({ instrument }: { readonly instrument: Speaking }) {
  if (!instrument.lineFormat) {
    return <p className={styles.lineState}><span>{instrument.label} is typed by hand: nobody has said <Link to={`/instruments/${instrument.id}`}>how it writes its lines</Link>.</span></p>;
  }
  const reader = serialReaderOf(instrument);
  return (
    <div className={styles.lineState} role="group" aria-label={`Line of ${instrument.label}`}>
      {reader ? <Serial instrument={instrument} reader={reader} /> : <span>Stable lines of {instrument.label} come from a bench computer, or from the instrument acting as keyboard.</span>}
      <AtOnce />
    </div>
  );
}

const told: Readonly<Record<SerialState['line'], (label: string) => string>> = {
  closed: (label) => `${label} is not connected to this computer; lines that a bench computer hears come all the same.`,
  opening: (label) => `Choose the port of ${label}.`,
  open: (label) => `${label} is connected.`,
  lost: (label) => `The line of ${label} is lost; it is tried again by itself.`,
};
const outcomes = { stable: 'settled', moving: 'still moving', unread: 'not read' } as const;

function Serial({ instrument, reader }: { readonly instrument: Speaking; readonly reader: SerialReader }) {
  const { line, last, why } = useSyncExternalStore(reader.watch, reader.state);
  return (
    <>
      <span><strong>{told[line](instrument.label)}</strong> {why ? `(${why})` : null} {last ? <>It shows <RawLine>{last.rawLine}</RawLine> {outcomes[last.outcome]}.</> : null}</span>
      {line === 'closed'
        ? <Action kind="plain" onClick={() => void reader.connect()}>Connect {instrument.label}</Action>
        : <Action kind="quiet" onClick={() => void reader.close()}>Let go of its line</Action>}
    </>
  );
}

/** Hands free: the balance settles, and the next disc is asked for. */
function AtOnce() {
  const [on, setOn] = useState(takesAtOnce);
  const turn = (next: boolean) => {
    takeAtOnce(next);
    setOn(next);
  };
  return (
    <label className={styles.tick}>
      <input type="checkbox" checked={on} onChange={(event) => turn(event.currentTarget.checked)} /> Take a stable line at once, without Enter
    </label>
  );
}
