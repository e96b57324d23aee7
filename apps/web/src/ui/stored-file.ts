import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex } from '@noble/hashes/utils.js';
import type { StoredFilePurpose } from '../generated/graphql.js';
import { ACTING_FOR, actingText } from '../offline/acting-for.js';
import type { Account } from '../offline/acting-for.js';
import type { ProblemSeen, Sent } from './send.js';

/** What the server tells of a file it keeps. */
export interface StoredFileSeen {
  readonly id: string;
  readonly name: string;
  readonly mediaType: string;
  readonly sizeBytes: number;
  readonly sha256: string;
  readonly url: string;
}

interface FileToSend {
  /** Made by `newId`: sending it again under the same id is the same write. */
  readonly id: string;
  readonly file: File;
  readonly purpose: StoredFilePurpose;
  /** Told how much of it has gone out, 0 to 1. */
  readonly onProgress: (share: number) => void;
  readonly signal?: AbortSignal;
  /** Whose file it is, where that may not be who is signed in. */
  readonly account?: Account;
}

const unknown: ProblemSeen = { code: 'INPUT', message: 'The server did not take the file.', remedy: 'Try again; if it happens again, tell whoever runs the server.' };

/** Sends a file with the hash that this computer finds, so that damage on the way is told. */
export async function sendFile({ id, file, purpose, onProgress, signal, account }: FileToSend): Promise<Sent<StoredFileSeen>> {
  const bytes = new Uint8Array(await file.arrayBuffer());
  const address = new URLSearchParams({ id, name: file.name, purpose, type: file.type, sha256: bytesToHex(sha256(bytes)) });
  return new Promise((resolve) => {
    // fetch() does not tell how much of a body has gone out.
    const request = new XMLHttpRequest();
    request.open('POST', `/files?${address}`);
    request.responseType = 'json';
    request.setRequestHeader('Content-Type', 'application/octet-stream');
    request.setRequestHeader('X-Threadleaf', '1');
    if (account) request.setRequestHeader(ACTING_FOR, actingText(account));
    request.upload.onprogress = ({ loaded, total }) => onProgress(total > 0 ? loaded / total : 0);
    request.onload = () => {
      const answer = request.response as { storedFile?: StoredFileSeen; problem?: ProblemSeen } | null;
      if (answer?.storedFile) resolve({ outcome: 'recorded', payload: answer.storedFile });
      else resolve({ outcome: 'refused', problem: answer?.problem ?? unknown, payload: null, fault: request.status >= 500 });
    };
    request.onerror = request.onabort = () => resolve({ outcome: 'not-sent', message: 'No answer came from the server.' });
    signal?.addEventListener('abort', () => request.abort());
    request.send(bytes);
  });
}

/** A size as a person says it: 812 bytes, 34 kB, 2.6 MB (SI, powers of 1000). */
export function sizeText(bytes: number): string {
  if (bytes < 1000) return `${bytes} bytes`;
  return bytes < 1_000_000 ? `${Math.round(bytes / 1000)} kB` : `${(bytes / 1_000_000).toFixed(1)} MB`;
}
