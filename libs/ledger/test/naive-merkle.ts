import { createHash } from 'node:crypto';

/**
 * The definitions of RFC 9162 section 2.1, word for word and as slow as they stand, over all leaves at once. It shares
 * nothing with the library, not even the hash, and lives in the tests only, to be compared with.
 */

function hash(...parts: Uint8Array[]): Uint8Array {
  const sha256 = createHash('sha256');
  for (const part of parts) sha256.update(part);
  return new Uint8Array(sha256.digest());
}

/** "Let k be the largest power of two smaller than n (i.e., k < n <= 2k)." */
function splitOf(n: number): number {
  let k = 1;
  while (2 * k < n) k *= 2;
  return k;
}

/** MTH(D_n), section 2.1.1. */
export function naiveRoot(leaves: readonly Uint8Array[]): Uint8Array {
  const n = leaves.length;
  if (n === 0) return hash();
  if (n === 1) return hash(Uint8Array.of(0x00), leaves[0] as Uint8Array);
  const k = splitOf(n);
  return hash(Uint8Array.of(0x01), naiveRoot(leaves.slice(0, k)), naiveRoot(leaves.slice(k)));
}

/** PATH(m, D_n), section 2.1.3.1. */
export function naiveInclusion(m: number, leaves: readonly Uint8Array[]): Uint8Array[] {
  const n = leaves.length;
  if (n === 1) return [];
  const k = splitOf(n);
  return m < k
    ? [...naiveInclusion(m, leaves.slice(0, k)), naiveRoot(leaves.slice(k))]
    : [...naiveInclusion(m - k, leaves.slice(k)), naiveRoot(leaves.slice(0, k))];
}

/** PROOF(m, D_n), section 2.1.4.1. */
export function naiveConsistency(m: number, leaves: readonly Uint8Array[]): Uint8Array[] {
  return naiveSubproof(m, leaves, true);
}

/** SUBPROOF(m, D_n, b), section 2.1.4.1. */
function naiveSubproof(m: number, leaves: readonly Uint8Array[], b: boolean): Uint8Array[] {
  const n = leaves.length;
  if (m === n) return b ? [] : [naiveRoot(leaves)];
  const k = splitOf(n);
  return m <= k
    ? [...naiveSubproof(m, leaves.slice(0, k), b), naiveRoot(leaves.slice(k))]
    : [...naiveSubproof(m - k, leaves.slice(k), false), naiveRoot(leaves.slice(0, k))];
}
