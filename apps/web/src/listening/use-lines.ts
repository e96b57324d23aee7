import { useSubscription } from '@apollo/client/react';
import { useEffect, useRef } from 'react';
import { LineHeard } from './documents.js';
import { useKeyBurst } from './key-burst.js';
import { sayingOf, type Said, type Speaking } from './said.js';
import { serialReaderOf } from './serial-reader.js';

interface Listening {
  /** The field that the lines are for. */
  readonly field: string;
  readonly onSaid: (said: Said) => void;
  /** A line that came by the keyboard and was not taken, and why; the keys already stand in the field. */
  readonly onNotTaken: (why: string) => void;
  /** A burst of keys that is something else, such as a label; true where it was taken. */
  readonly onOther?: (text: string) => boolean;
}

/** Brings each stable line of an instrument to a form, whichever of the three ways it comes by. */
export function useLines(instrument: Speaking, { field, onSaid, onNotTaken, onOther }: Listening): void {
  const { lineFormat } = instrument;
  const latest = useRef({ onSaid, lineFormat });
  useEffect(() => { latest.current = { onSaid, lineFormat }; });
  useSubscription(LineHeard, {
    variables: { instrumentId: instrument.id },
    skip: lineFormat === null,
    // A lost socket only means that lines come later or not at all: the number can be typed.
    onError: () => undefined,
    onData: ({ data: { data } }) => {
      if (!data || !latest.current.lineFormat) return;
      const saying = sayingOf(data.lineHeard.rawLine, latest.current.lineFormat, 'heard', data.lineHeard.throughToken ?? null);
      if (saying.outcome === 'take') latest.current.onSaid(saying.said);
    },
  });
  useEffect(() => serialReaderOf(instrument)?.take((said) => latest.current.onSaid(said)), [instrument]);
  useKeyBurst(field, (text) => {
    if (onOther?.(text)) return true;
    if (!lineFormat) return false;
    const saying = sayingOf(text, lineFormat, 'keys');
    if (saying.outcome === 'unread') return false;
    if (saying.outcome === 'take') onSaid(saying.said);
    else onNotTaken(saying.why);
    return true;
  });
}
