import { HASH_LENGTH, defaultSha256, sameHash, type Sha256 } from './content-hash.js';
import { nodeHash } from './merkle-tree.js';

/**
 * Checking proofs by RFC 9162. What is checked comes from outside and may be anything, so that nothing here throws:
 * the answer is that it holds, or why it does not.
 */
export type Verdict = { readonly holds: true } | { readonly holds: false; readonly why: string };

const HOLDS: Verdict = { holds: true };

/** What an inclusion proof claims. Root and size must come from one and the same signed checkpoint. */
export interface InclusionClaim {
  /** Place of the leaf, from 0. */
  readonly index: number;
  /** Leaves in the tree. */
  readonly size: number;
  /** 32 bytes, recomputed by the verifier from the entry itself, never taken from the one who claims. */
  readonly leafHash: Uint8Array;
  /** Siblings from the leaf upwards, 32 bytes each. */
  readonly proof: readonly Uint8Array[];
  /** 32 bytes. */
  readonly root: Uint8Array;
}

/**
 * Does the tree of this size and root have this leaf at this place? RFC 9162 section 2.1.3.2.
 *
 * The proof does not bind the size by itself (leaf 0 has the same path in trees of 5 to 8 leaves): it says something
 * about a tree only together with the checkpoint that names both root and size.
 */
export function verifyInclusion(claim: InclusionClaim, sha256: Sha256 = defaultSha256): Verdict {
  const { index, size, proof, root } = claim;
  if (!isCount(size) || !isCount(index) || index >= size) return fails(`there is no entry ${index} in a ledger of ${size}`);
  const malformed = malformedHash([claim.leafHash, root, ...proof]);
  if (malformed) return malformed;

  let node = index;
  let last = size - 1;
  let hash = claim.leafHash;
  for (const sibling of proof) {
    if (last === 0) return fails('the inclusion proof is longer than the tree is high');
    if (isOdd(node) || node === last) {
      hash = nodeHash(sibling, hash, sha256);
      // A node without a right sibling rises unhashed until it has a left one.
      while (!isOdd(node) && node !== 0) {
        node = half(node);
        last = half(last);
      }
    } else {
      hash = nodeHash(hash, sibling, sha256);
    }
    node = half(node);
    last = half(last);
  }
  if (last !== 0) return fails('the inclusion proof is shorter than the tree is high');
  return sameHash(hash, root) ? HOLDS : fails('the entry and its inclusion proof do not lead to the root of the checkpoint');
}

/** What a consistency proof claims: the tree of the new checkpoint begins with the tree of the old one. */
export interface ConsistencyClaim {
  readonly oldSize: number;
  readonly oldRoot: Uint8Array;
  readonly newSize: number;
  readonly newRoot: Uint8Array;
  /** As {@link proveConsistency} gives it; empty when the sizes are equal. */
  readonly proof: readonly Uint8Array[];
}

/**
 * Was nothing that the old checkpoint covers changed, dropped or moved in the new one? RFC 9162 section 2.1.4.2.
 *
 * The RFC defines no proof from size 0, and none is accepted: it would hold for any tree whatever.
 */
export function verifyConsistency(claim: ConsistencyClaim, sha256: Sha256 = defaultSha256): Verdict {
  const { oldSize, oldRoot, newSize, newRoot, proof } = claim;
  if (!isCount(oldSize) || !isCount(newSize)) return fails(`a ledger has no ${isCount(oldSize) ? newSize : oldSize} entries`);
  if (oldSize === 0) return fails('the earlier checkpoint is of an empty ledger, which shows nothing about a later one');
  if (oldSize > newSize) return fails(`the ledger of ${newSize} entries is shorter than the earlier one of ${oldSize}`);
  const malformed = malformedHash([oldRoot, newRoot, ...proof]);
  if (malformed) return malformed;
  if (oldSize === newSize) {
    if (proof.length > 0) return fails('two checkpoints of one size need no consistency proof, yet there is one');
    return sameHash(oldRoot, newRoot) ? HOLDS : fails(`two checkpoints of ${newSize} entries have different roots`);
  }
  return climbBoth(claim, sha256);
}

/** Steps 1 to 7 of RFC 9162 section 2.1.4.2, for 0 < oldSize < newSize: both roots are rebuilt from the one proof. */
function climbBoth({ oldSize, oldRoot, newSize, newRoot, proof }: ConsistencyClaim, sha256: Sha256): Verdict {
  let node = oldSize - 1;
  let last = newSize - 1;
  while (isOdd(node)) {
    node = half(node);
    last = half(last);
  }
  // Nothing left: the old size is a power of two, the old tree one complete subtree, and the proof starts from its root.
  const [start, ...rest] = node === 0 ? [oldRoot, ...proof] : proof;
  if (start === undefined || proof.length === 0) return fails('the consistency proof is empty');

  let oldHash = start;
  let newHash = start;
  for (const sibling of rest) {
    if (last === 0) return fails('the consistency proof is longer than the tree is high');
    if (isOdd(node) || node === last) {
      oldHash = nodeHash(sibling, oldHash, sha256);
      newHash = nodeHash(sibling, newHash, sha256);
      while (!isOdd(node) && node !== 0) {
        node = half(node);
        last = half(last);
      }
    } else {
      newHash = nodeHash(newHash, sibling, sha256);
    }
    node = half(node);
    last = half(last);
  }
  if (last !== 0) return fails('the consistency proof is shorter than the tree is high');
  if (!sameHash(oldHash, oldRoot)) return fails('the consistency proof does not lead to the root of the earlier checkpoint');
  return sameHash(newHash, newRoot) ? HOLDS : fails('the consistency proof does not lead to the root of the later checkpoint');
}

function fails(why: string): Verdict {
  return { holds: false, why };
}

function malformedHash(hashes: readonly Uint8Array[]): Verdict | undefined {
  const odd = hashes.find((hash) => hash.length !== HASH_LENGTH);
  return odd && fails(`a hash of ${odd.length} bytes where ${HASH_LENGTH} are needed`);
}

function isCount(value: number): boolean {
  return Number.isSafeInteger(value) && value >= 0;
}

function isOdd(value: number): boolean {
  return value % 2 === 1;
}

function half(value: number): number {
  return Math.floor(value / 2);
}
