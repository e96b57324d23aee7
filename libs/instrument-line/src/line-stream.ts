import { LINE_MOST } from './line-format.js';

export type Terminator = 'CRLF' | 'CR' | 'LF';

/**
 * Bytes as the text that is kept as raw line: each byte one character of ISO 8859-1, a control character as its picture
 * (U+2400 and following), so that nothing is lost and everything can be seen, stored and compared.
 */
function spell(byte: number): string {
  if (byte < 0x20) return String.fromCharCode(0x2400 + byte);
  return byte === 0x7f ? '\u2421' : String.fromCharCode(byte);
}

const ENDS: Readonly<Record<Terminator, string>> = { CRLF: '\u240d\u240a', CR: '\u240d', LF: '\u240a' };

/**
 * Cuts a stream of bytes into lines, whatever pieces it arrives in. A partial line waits for its rest; one that grows beyond
 * twice the longest line that is read is noise, and is told as one line cut there.
 *
 * @example
 * const stream = new LineStream('CRLF');
 * stream.take(new TextEncoder().encode('+  60.')) // => []
 */
export class LineStream {
  private held = '';

  constructor(private readonly terminator: Terminator) {}

  /** Lines that these bytes complete, in order, without terminators; empty ones are left out. */
  take(bytes: Uint8Array): readonly string[] {
    for (const byte of bytes) this.held += spell(byte);
    const lines: string[] = [];
    const end = ENDS[this.terminator];
    for (let at = this.held.indexOf(end); at >= 0; at = this.held.indexOf(end)) {
      lines.push(this.held.slice(0, at));
      this.held = this.held.slice(at + end.length);
    }
    while (this.held.length > 2 * LINE_MOST) {
      lines.push(this.held.slice(0, 2 * LINE_MOST));
      this.held = this.held.slice(2 * LINE_MOST);
    }
    return lines.filter((line) => line !== '');
  }

  /** Forgets a partial line: after a gap its beginning does not belong to what follows. */
  forget(): void {
    this.held = '';
  }
}
