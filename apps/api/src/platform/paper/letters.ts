import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import * as fontkit from 'fontkit';

const require = createRequire(import.meta.url);
const folderOf = (packageName: string): string => dirname(require.resolve(`${packageName}/package.json`));
const roboto = (style: string): string => join(folderOf('pdfmake'), 'fonts/Roboto', `Roboto-${style}.ttf`);
const dejaVu = (style: string): string => join(folderOf('dejavu-fonts-ttf'), 'ttf', `DejaVu${style}.ttf`);

/** Reading text, what it lacks (arrows, Hebrew, Arabic, Armenian, Georgian ...), and lines of instruments. All embedded, only the letters used. */
export const faces = {
  Text: { normal: roboto('Regular'), bold: roboto('Medium'), italics: roboto('Italic'), bolditalics: roboto('MediumItalic') },
  Other: { normal: dejaVu('Sans'), bold: dejaVu('Sans-Bold'), italics: dejaVu('Sans-Oblique'), bolditalics: dejaVu('Sans-BoldOblique') },
  Raw: { normal: dejaVu('SansMono'), bold: dejaVu('SansMono-Bold'), italics: dejaVu('SansMono-Oblique'), bolditalics: dejaVu('SansMono-BoldOblique') },
} as const;

export type Face = keyof typeof faces;

export const facePaths: ReadonlySet<string> = new Set(Object.values(faces).flatMap((face) => Object.values(face)));

const covered = new Map<Face, ReadonlySet<number>>();

function coverage(face: Face): ReadonlySet<number> {
  let known = covered.get(face);
  if (!known) {
    const font = fontkit.openSync(faces[face].normal);
    known = new Set('characterSet' in font ? font.characterSet : []);
    covered.set(face, known);
  }
  return known;
}

/** A stretch of text that one face can write. */
export interface Span {
  readonly text: string;
  readonly face: Face;
}

const isCombining = /\p{M}/u;
/** Space, line break and joiners follow whatever face they stand in. */
const isNeutral = (letter: string): boolean => letter === ' ' || letter === '\n' || letter === '\u00a0' || letter === '\u200b' || isCombining.test(letter);

const controlNames: Readonly<Record<string, string>> = { '\t': '[TAB]', '\r': '[CR]', '\x1b': '[ESC]' };

const byNumber = (letter: string): string => `[U+${letter.codePointAt(0)!.toString(16).toUpperCase().padStart(4, '0')}]`;

/** Control characters of an instrument's line are named: a tab must not look like a space. */
const isControl = (letter: string): boolean => letter !== '\n' && /\p{Cc}/u.test(letter);

/**
 * Text in stretches by face: the wanted one where it has the letter, else the one with more letters. A letter that no face
 * has is written as its Unicode number, so that nothing is lost unseen.
 *
 *     spansOf('到 Ω', 'Text')   // [{ text: '[U+5230]', face: 'Text' }, { text: ' Ω', face: 'Text' }]
 */
export function spansOf(text: string, wanted: Face): Span[] {
  const spans: { text: string; face: Face }[] = [];
  for (const letter of text.normalize('NFC')) {
    const { face, written } = writtenBy(letter, wanted, spans.at(-1)?.face ?? wanted);
    const last = spans.at(-1);
    if (last?.face === face) last.text += written;
    else spans.push({ text: written, face });
  }
  return spans.length > 0 ? spans : [{ text: '', face: wanted }];
}

function writtenBy(letter: string, wanted: Face, current: Face): { face: Face; written: string } {
  if (isControl(letter)) return { face: wanted, written: controlNames[letter] ?? byNumber(letter) };
  if (isNeutral(letter)) return { face: current, written: letter };
  const code = letter.codePointAt(0)!;
  const face = [wanted, 'Other' as const].find((each) => coverage(each).has(code));
  return face ? { face, written: letter } : { face: wanted, written: byNumber(letter) };
}
