import { createHash } from 'node:crypto';

/** A file made for one reader, as it travels over GraphQL. */
export interface MadeFile {
  readonly fileName: string;
  readonly base64: string;
  readonly sha256: string;
  readonly bytes: number;
}

export const madeFile = (fileName: string, content: Uint8Array): MadeFile => ({
  fileName,
  base64: Buffer.from(content).toString('base64'),
  sha256: createHash('sha256').update(content).digest('hex'),
  bytes: content.length,
});
