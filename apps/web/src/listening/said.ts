import { readLine, type LineFormat } from '#libs/instrument-line';
import { UNITS, type Unit } from '#libs/quantity';
import type { LineFormatFieldsFragment } from '../generated/graphql.js';

/** An instrument whose lines a screen may take. */
export interface Speaking {
  readonly id: string;
  readonly label: string;
  /** Null: nobody has said how it writes, so nothing it says can be read. */
  readonly lineFormat: LineFormatFieldsFragment | null;
}

/** How a line came here: told by a bench computer, by the serial line of this browser, or typed by the instrument as a keyboard. */
export type Way = 'heard' | 'serial' | 'keys';

/** A stable line of an instrument, ready to stand in a field. */
export interface Said {
  readonly way: Way;
  /** Name of the bench computer's access token. */
  readonly through: string | null;
  readonly rawLine: string;
  /** As a field shows it: without the plus that the raw line keeps. */
  readonly valueText: string;
  readonly unit: string;
  /** The instrument's own word that the value had settled; null where its lines have none. */
  readonly stable: true | null;
}

export const readFormatOf = (format: LineFormatFieldsFragment): LineFormat => ({
  ...format, unit: format.unit as Unit, unitWords: format.unitWords.map(({ written, unit }) => ({ written, unit: unit as Unit })),
});

const tellsStability = ({ pattern, unitOnlyWhenStable }: LineFormatFieldsFragment): boolean => unitOnlyWhenStable || /\{\s*mark\s*\}/.test(pattern);

/**
 * What a line says to a field. `take` carries what may stand there; everything else is told in a sentence: a value that moves
 * and an empty pan are never a mass.
 */
export type Reading = { readonly outcome: 'take'; readonly said: Said } | { readonly outcome: 'moving' | 'zero' | 'unread'; readonly why: string };

export function sayingOf(rawLine: string, format: LineFormatFieldsFragment, way: Way, through: string | null = null): Reading {
  const read = readLine(rawLine, readFormatOf(format));
  if (read.outcome === 'unread') return { outcome: 'unread', why: read.why };
  if (read.outcome === 'moving') return { outcome: 'moving', why: 'The value had not settled: it was not taken.' };
  // A dark may well be zero; an empty pan is no mass.
  if (read.zero && UNITS[read.unit].dimension === 'mass') return { outcome: 'zero', why: 'The pan is empty, or just tared: nothing was taken.' };
  return { outcome: 'take', said: { way, through, rawLine, valueText: read.valueText.replace(/^\+/, ''), unit: read.unit, stable: tellsStability(format) ? true : null } };
}

interface Captured {
  readonly entryMode: 'LINE' | 'TYPED';
  readonly rawLine: string;
  readonly stable: boolean | null;
}

/** How a number came to be in a field: with its line as long as nobody has typed over it, else by hand. */
export const capturedAs = (said: Said | null, text: string, unit: string): Captured =>
  said && said.valueText === text && said.unit === unit
    ? { entryMode: 'LINE', rawLine: said.rawLine, stable: said.stable }
    : { entryMode: 'TYPED', rawLine: text, stable: null };
