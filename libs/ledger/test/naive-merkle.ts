import { createHash } from 'node:crypto';

/**
 * The definitions of RFC 9162 section 2.1, word for word, over all leaves at once; D[a:b] is written (a, b). It shares
 * nothing with the library, not even the hash, and lives in the tests only, to be compared with.
 */
export interface NaiveTree {
  /** MTH(D[0:n]). */
  root(n: number): Uint8Array;
  /** PATH(m, D[0:n]). */
  inclusion(m: number, n: number): Uint8Array[];
  /** PROOF(m, D[0:n]). */
  consistency(m: number, n: number): Uint8Array[];
}

export function naiveTree(leaves: readonly Uint8Array[]): NaiveTree {
  // Remembering what was computed changes no definition; without it the checks would take minutes.
  const known = new Map<string, Uint8Array>();

  /** MTH(D_n), section 2.1.1. */
  function mth(a: number, b: number): Uint8Array {
    const found = known.get(`${a}:${b}`);
    if (found) return found;
    const n = b - a;
    const k = splitOf(n);
    let root: Uint8Array;
    if (n === 0) root = hash();
    else if (n === 1) root = hash(Uint8Array.of(0x00), leaves[a] as Uint8Array);
    else root = hash(Uint8Array.of(0x01), mth(a, a + k), mth(a + k, b));
    known.set(`${a}:${b}`, root);
    return root;
  }

  /** PATH(m, D_n), section 2.1.3.1. */
  function path(m: number, a: number, b: number): Uint8Array[] {
    const n = b - a;
    if (n === 1) return [];
    const k = splitOf(n);
    return m < k ? [...path(m, a, a + k), mth(a + k, b)] : [...path(m - k, a + k, b), mth(a, a + k)];
  }

  /** SUBPROOF(m, D_n, b), section 2.1.4.1. */
  function subproof(m: number, a: number, b: number, complete: boolean): Uint8Array[] {
    const n = b - a;
    if (m === n) return complete ? [] : [mth(a, b)];
    const k = splitOf(n);
    return m <= k
      ? [...subproof(m, a, a + k, complete), mth(a + k, b)]
      : [...subproof(m - k, a + k, b, false), mth(a, a + k)];
  }

  return {
    root: (n) => mth(0, n),
    inclusion: (m, n) => path(m, 0, n),
    consistency: (m, n) => subproof(m, 0, n, true),
  };
}

/** "Let k be the largest power of two smaller than n (i.e., k < n <= 2k)." */
function splitOf(n: number): number {
  let k = 1;
  while (2 * k < n) k *= 2;
  return k;
}

function hash(...parts: Uint8Array[]): Uint8Array {
  const sha256 = createHash('sha256');
  for (const part of parts) sha256.update(part);
  return new Uint8Array(sha256.digest());
}
