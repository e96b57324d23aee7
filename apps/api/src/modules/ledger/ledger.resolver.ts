import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import { InputError } from '#libs/quantity';
import { entryLeaf, formatVerifierKey, proveConsistency, proveInclusion, toHex } from '#libs/ledger';
import { RequestContext } from '../../platform/graphql/context.js';
import {
  checkpointsSince, entryOf, ledgerKeys, ledgerSize, newestCheckpoint, nodeReader, sha256, type StoredCheckpoint,
} from '../../platform/ledger/ledger-store.js';
import { placedEntriesOf, placedEntry } from './ledger.repository.js';

const CHECKPOINTS_MOST = 200;

interface CheckpointView {
  readonly size: number;
  readonly text: string;
}

const toCheckpoint = ({ size, note }: StoredCheckpoint): CheckpointView => ({ size, text: note });

@Resolver()
export class LedgerResolver {
  @Query()
  async checkpoint(@Context() context: RequestContext): Promise<CheckpointView | null> {
    const newest = await newestCheckpoint(await context.read());
    return newest && toCheckpoint(newest);
  }

  @Query()
  async checkpoints(@Args() { since, first }: { since: number; first: number }, @Context() context: RequestContext): Promise<CheckpointView[]> {
    const found = await checkpointsSince(await context.read(), since, Math.min(Math.max(first, 1), CHECKPOINTS_MOST));
    return found.map(toCheckpoint);
  }

  @Query('ledgerKeys')
  async keys(@Context() context: RequestContext): Promise<object[]> {
    const keys = await ledgerKeys(await context.read());
    return keys.map(({ key, firstSize, lastSize, change = null }) => ({ key: formatVerifierKey(key), firstSize, lastSize, change }));
  }

  @Query()
  async inclusionProof(@Args() { entryId, subjectId }: { entryId?: string; subjectId?: string }, @Context() context: RequestContext): Promise<object | null> {
    if (Boolean(entryId) === Boolean(subjectId)) {
      throw new InputError('ONE_OF', 'entryId', 'and subjectId are alternatives', 'Give the id of an entry, or the id of a record, not both.');
    }
    const tx = await context.read();
    const checkpoint = await newestCheckpoint(tx);
    const entry = entryId ? await placedEntry(tx, entryId) : ((await placedEntriesOf(tx, [subjectId!]))[0] ?? null);
    if (!checkpoint || !entry || entry.place >= checkpoint.size) return null;
    const proof = await proveInclusion(nodeReader(tx), entry.place, checkpoint.size, sha256);
    return {
      entryId: entry.id,
      leaf: Buffer.from(entryLeaf(entryOf(tx.labId, entry))).toString('utf8'),
      place: entry.place,
      proof: proof.map(toHex),
      checkpoint: toCheckpoint(checkpoint),
    };
  }

  @Query()
  async consistencyProof(@Args() { oldSize, newSize }: { oldSize: number; newSize: number }, @Context() context: RequestContext): Promise<object> {
    const tx = await context.read();
    const size = await ledgerSize(tx);
    if (newSize > size) {
      throw new InputError('NO_CONSISTENCY', 'newSize', `is ${newSize}, but the ledger has ${size} entries`, 'Give the size of a checkpoint of this ledger.');
    }
    const proof = await proveConsistency(nodeReader(tx), oldSize, newSize, sha256);
    return { oldSize, newSize, proof: proof.map(toHex) };
  }
}
