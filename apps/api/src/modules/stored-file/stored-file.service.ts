import { createHash } from 'node:crypto';
import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { StoredFilePurpose } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { mediaTypeOf } from './media-type.js';
import { StoredFile } from './stored-file.entity.js';
import { layBytes } from './stored-file.repository.js';

/** Largest file: a photo of a good phone is half of it. */
export const MOST_BYTES = 20 * 1024 * 1024;

export const PURPOSES: readonly StoredFilePurpose[] = ['PHOTO', 'CERTIFICATE', 'INSTRUMENT_FILE', 'SPECTRUM', 'PLAN', 'DOCUMENT', 'EVIDENCE_PACK'];

export interface StoreFile {
  readonly id: string;
  readonly name: string;
  readonly purpose: string;
  /** What the sender calls the type, or null. */
  readonly mediaType: string | null;
  /** What the sender found the hash to be, or null: tells bytes that were damaged on the way. */
  readonly sha256: string | null;
  readonly bytes: Buffer;
}

/** Keeps files beside the record: bytes by their hash, and a fact that says whose they are and what for. */
@Injectable()
export class StoredFileService {
  constructor(private readonly recorder: Recorder) {}

  store(tx: Tx, actor: Actor, file: StoreFile): Promise<Written<StoredFile>> {
    const sha256 = createHash('sha256').update(file.bytes).digest('hex');
    const purpose = PURPOSES.find((each) => each === file.purpose);
    if (!purpose) throw new InputError('UNKNOWN', 'purpose', `is ${file.purpose || 'empty'}`, `Name one of ${PURPOSES.join(', ')}.`);
    if (file.bytes.length === 0) throw new InputError('MISSING', 'file', 'has no bytes', 'Choose a file that holds something.');
    if (file.sha256 !== null && file.sha256.toLowerCase() !== sha256) {
      throw new InputError('DAMAGED', 'file', 'the file did not arrive as it was sent: its SHA-256 differs', 'Send it again.');
    }
    const given = {
      id: file.id, name: requireText('name', file.name.split(/[\\/]/).at(-1)!), mediaType: mediaTypeOf(file.bytes, file.mediaType), sizeBytes: file.bytes.length, sha256, purpose,
    };
    return this.recorder.record(tx, actor, StoredFile, given, async () => {
      await layBytes(tx, sha256, file.bytes);
      return { uses: [], action: 'store' };
    });
  }
}
