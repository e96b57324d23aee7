import { InputError } from '#libs/quantity';

/** First bytes by which a type is known; the offset is 0 unless told. */
interface Magic {
  readonly mediaType: string;
  readonly bytes: readonly number[];
  readonly also?: { readonly at: number; readonly bytes: readonly number[] };
}

const ascii = (text: string): number[] => [...text].map((letter) => letter.charCodeAt(0));

/**
 * Signatures as the formats' own specifications give them: PNG (W3C PNG, 5.2), JPEG (ITU-T T.81, SOI and the marker
 * after it), WebP (RFC 9649, 2.4), PDF (ISO 32000-1, 7.5.2), ZIP (APPNOTE 4.3.7), TIFF (revision 6.0, section 2).
 */
const MAGIC: readonly Magic[] = [
  { mediaType: 'image/png', bytes: [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a] },
  { mediaType: 'image/jpeg', bytes: [0xff, 0xd8, 0xff] },
  { mediaType: 'image/webp', bytes: ascii('RIFF'), also: { at: 8, bytes: ascii('WEBP') } },
  { mediaType: 'application/pdf', bytes: ascii('%PDF-') },
  { mediaType: 'application/zip', bytes: [0x50, 0x4b, 0x03, 0x04] },
  { mediaType: 'image/tiff', bytes: [0x49, 0x49, 0x2a, 0x00] },
  { mediaType: 'image/tiff', bytes: [0x4d, 0x4d, 0x00, 0x2a] },
];

/** Texts have no signature: one of these may be said of what is text. Anything a browser would run is not among them. */
const TEXTS = ['text/plain', 'text/csv', 'text/tab-separated-values', 'application/json', 'application/geo+json', 'chemical/x-jcamp-dx'] as const;

/** What a browser shows in its own window; everything else is saved. */
export const SHOWN = ['image/png', 'image/jpeg', 'image/webp', 'application/pdf'];

const REMEDY = 'Send a photo (JPEG, PNG, WebP, TIFF), a PDF, a text file (CSV, TSV, JSON, JCAMP-DX, plain) or a ZIP.';

const startsWith = (bytes: Uint8Array, at: number, start: readonly number[]): boolean => start.every((byte, i) => bytes[at + i] === byte);

/**
 * The media type of a file, by its own bytes. What the sender says is believed only between kinds of text.
 *
 * @param said what the sender calls it, or null
 * @throws InputError `MEDIA_TYPE` for bytes of none of the kinds, or of another kind than is said
 * @example mediaTypeOf(new Uint8Array([0xff, 0xd8, 0xff, 0xe0]), null) // 'image/jpeg'
 */
export function mediaTypeOf(bytes: Uint8Array, said: string | null): string {
  const plain = said?.split(';')[0]!.trim().toLowerCase() || null;
  const found = MAGIC.find((magic) => startsWith(bytes, 0, magic.bytes) && (!magic.also || startsWith(bytes, magic.also.at, magic.also.bytes)))?.mediaType;
  if (found) {
    if (plain && plain !== found && plain !== 'application/octet-stream' && !isZipped(plain, found)) throw refused(`is called ${plain}, but its first bytes are those of ${found}`);
    return found;
  }
  if (!isText(bytes)) throw refused('is of no kind that is kept here');
  if (!plain || plain === 'application/octet-stream') return 'text/plain';
  const text = TEXTS.find((each) => each === plain);
  if (!text) throw refused(plain.startsWith('text/') || /json|xml|svg|html|script/.test(plain) ? `of type ${plain} is not kept here` : `is called ${plain}, but its bytes are text`);
  return text;
}

/** Spreadsheets and many instrument files are ZIP inside. */
const isZipped = (said: string, found: string): boolean => found === 'application/zip' && said.startsWith('application/') && said !== 'application/pdf';

/** UTF-8 without control characters other than tab and the ends of lines. */
function isText(bytes: Uint8Array): boolean {
  if (bytes.some((byte) => byte < 9 || (byte > 13 && byte < 32 && byte !== 27))) return false;
  try {
    new TextDecoder('utf-8', { fatal: true }).decode(bytes);
    return true;
  } catch {
    return false;
  }
}

const refused = (problem: string): InputError => new InputError('MEDIA_TYPE', 'file', `The file ${problem}`, REMEDY);
