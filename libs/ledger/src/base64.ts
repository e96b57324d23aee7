const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';
const VALUE = new Map([...ALPHABET].map((letter, i) => [letter, i]));

/** Standard base64 with padding: RFC 4648 section 4. Written here because Node's and the browser's own differ. */
export function toBase64(bytes: Uint8Array): string {
  let text = '';
  for (let i = 0; i < bytes.length; i += 3) {
    const [a = 0, b = 0, c = 0] = bytes.subarray(i, i + 3);
    const bits = (a << 16) | (b << 8) | c;
    for (let shift = 18; shift >= 0; shift -= 6) text += ALPHABET[(bits >> shift) & 63];
  }
  const missing = (3 - (bytes.length % 3)) % 3;
  return text.slice(0, text.length - missing) + '='.repeat(missing);
}

/** The bytes of strict base64, or undefined: each sequence of bytes has exactly one text (RFC 4648 sections 3.3 to 3.5). */
export function fromBase64(text: string): Uint8Array | undefined {
  if (text.length % 4 !== 0 || !/^[A-Za-z0-9+/]*={0,2}$/.test(text)) return undefined;
  const letters = text.replace(/=+$/, '');
  const bytes = new Uint8Array(Math.floor((letters.length * 3) / 4));
  let bits = 0;
  let held = 0;
  let at = 0;
  for (const letter of letters) {
    bits = ((bits << 6) | (VALUE.get(letter) as number)) & 0xffff;
    held += 6;
    if (held >= 8) {
      held -= 8;
      bytes[at++] = (bits >> held) & 0xff;
    }
  }
  // Left-over bits that are not zero would be a second text for the same bytes.
  const spare = bits & ((1 << held) - 1);
  return spare === 0 ? bytes : undefined;
}
