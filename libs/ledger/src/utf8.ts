const encoder = new TextEncoder();

/** The UTF-8 bytes of a text. One encoder for all: making one costs more than most texts take. */
export function utf8Bytes(text: string): Uint8Array {
  return encoder.encode(text);
}
