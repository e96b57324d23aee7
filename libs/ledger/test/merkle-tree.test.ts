import { InputError } from '#libs/quantity';
import {
  EMPTY_FRONTIER, appendLeaf, emptyRoot, frontierRoot, leafHash, nodeHash, proveConsistency, proveInclusion, readFrontier,
  rootAt, toHex, verifyConsistency, verifyInclusion,
} from '#libs/ledger';
import { LEAF_DATA, ROOTS } from './merkle-vectors.js';
import { naiveTree } from './naive-merkle.js';
import { storedTree, type StoredTree } from './stored-tree.js';

const bytes = (hex: string): Uint8Array => new Uint8Array(Buffer.from(hex, 'hex'));
const utf8 = (text: string): Uint8Array => new TextEncoder().encode(text);
const hexes = (hashes: readonly Uint8Array[]): string[] => hashes.map(toHex);

const MAX_SIZE = 100;
const leaves = Array.from({ length: MAX_SIZE }, (_, i) => utf8(`leaf ${i}`));
const naive = naiveTree(leaves);
const roots = Array.from({ length: MAX_SIZE + 1 }, (_, n) => naive.root(n));

function grown(count: number): StoredTree {
  const tree = storedTree();
  for (const leaf of leaves.slice(0, count)) tree.append(leaf);
  return tree;
}

describe('published hashes', () => {
  // google/certificate-transparency and transparency-dev/merkle rfc6962/rfc6962_test.go (Apache-2.0).
  test.each([
    ['empty tree', emptyRoot(), 'e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855'],
    ['empty leaf', leafHash(utf8('')), '6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d'],
    ['leaf L123456', leafHash(utf8('L123456')), '395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56'],
    ['node N123 N456', nodeHash(utf8('N123'), utf8('N456')), 'aa217fe888e47007fa15edab33c2b492a722cb106c64667fc2b044444de66bbb'],
  ])('%s', (_name, hash, hex) => {
    expect(toHex(hash)).toBe(hex);
  });

  test('roots of the reference tree of 0 to 8 leaves', async () => {
    const tree = storedTree();
    for (const data of LEAF_DATA) tree.append(bytes(data));
    const found: string[] = [];
    for (let size = 0; size <= LEAF_DATA.length; size++) found.push(toHex(await rootAt(tree.read, size)));
    expect(found).toEqual(ROOTS);
  });

  // The naive reference must itself be right, or agreeing with it means nothing.
  test('the naive reference gives them too', () => {
    const reference = naiveTree(LEAF_DATA.map(bytes));
    expect(ROOTS.map((_, n) => toHex(reference.root(n)))).toEqual(ROOTS);
  });
});

describe(`every tree of up to ${MAX_SIZE} entries against the definitions of RFC 9162`, () => {
  const tree = grown(MAX_SIZE);

  test('roots, at every size from the full tree and from the frontier', async () => {
    let frontier = EMPTY_FRONTIER;
    for (let size = 0; size <= MAX_SIZE; size++) {
      expect(toHex(await rootAt(tree.read, size))).toBe(toHex(roots[size] as Uint8Array));
      expect(toHex(frontierRoot(frontier))).toBe(toHex(roots[size] as Uint8Array));
      expect(await readFrontier(tree.read, size)).toEqual(frontier);
      if (size < MAX_SIZE) frontier = appendLeaf(frontier, leafHash(leaves[size] as Uint8Array)).frontier;
    }
  });

  test('inclusion of every entry', async () => {
    for (let size = 1; size <= MAX_SIZE; size++) {
      for (let index = 0; index < size; index++) {
        const proof = await proveInclusion(tree.read, index, size);
        expect(hexes(proof)).toEqual(hexes(naive.inclusion(index, size)));
        const claim = { index, size, leafHash: leafHash(leaves[index] as Uint8Array), proof, root: roots[size] as Uint8Array };
        expect(verifyInclusion(claim)).toEqual({ holds: true });
      }
    }
  }, 120_000);

  test('consistency of every pair of sizes', async () => {
    for (let newSize = 1; newSize <= MAX_SIZE; newSize++) {
      for (let oldSize = 1; oldSize <= newSize; oldSize++) {
        const proof = await proveConsistency(tree.read, oldSize, newSize);
        expect(hexes(proof)).toEqual(hexes(naive.consistency(oldSize, newSize)));
        const claim = { oldSize, oldRoot: roots[oldSize] as Uint8Array, newSize, newRoot: roots[newSize] as Uint8Array, proof };
        expect(verifyConsistency(claim)).toEqual({ holds: true });
      }
    }
  }, 120_000);

  test('no entry passes for another place, and no tree for another of the same shape', async () => {
    for (let size = 1; size <= 33; size++) {
      for (let index = 0; index < size; index++) {
        const proof = await proveInclusion(tree.read, index, size);
        const claim = { index, size, leafHash: leafHash(leaves[index] as Uint8Array), proof, root: roots[size] as Uint8Array };
        for (let other = 0; other < size; other++) {
          expect(verifyInclusion({ ...claim, index: other }).holds).toBe(other === index);
        }
        expect(verifyInclusion({ ...claim, root: roots[size - 1] as Uint8Array }).holds).toBe(false);
      }
    }
  }, 120_000);
});

describe('cost', () => {
  test('appending n leaves stores less than 2n nodes, at most 1 + log2(n) at once, each once', () => {
    const tree = storedTree();
    for (let n = 1; n <= 1024; n++) {
      const nodes = tree.append(utf8(String(n)));
      expect(nodes.length).toBeLessThanOrEqual(1 + Math.log2(n));
      expect(tree.nodes.size).toBeLessThan(2 * n);
      expect(tree.frontier().hashes.length).toBeLessThanOrEqual(1 + Math.log2(n));
    }
    expect(tree.takeReads()).toEqual([]);
  });

  test('a proof is one read of at most 2 log2(n) nodes and has at most ceil(log2(n)) hashes', async () => {
    const tree = grown(MAX_SIZE);
    for (let size = 2; size <= MAX_SIZE; size++) {
      for (let index = 0; index < size; index++) {
        const proof = await proveInclusion(tree.read, index, size);
        expect(proof.length).toBeLessThanOrEqual(Math.ceil(Math.log2(size)));
        const reads = tree.takeReads();
        expect(reads).toHaveLength(1);
        expect(reads[0]?.length).toBeLessThanOrEqual(2 * Math.log2(size));
      }
    }
  });

  test('sizes beyond 32 bits: the right edge of 2^40 + 3 leaves', async () => {
    const asked: unknown[] = [];
    const proof = await proveInclusion((places) => {
      asked.push(...places);
      return Promise.resolve(places.map(() => new Uint8Array(32)));
    }, 2 ** 40 + 1, 2 ** 40 + 3);
    expect(asked).toEqual([{ level: 0, index: 2 ** 40 }, { level: 0, index: 2 ** 40 + 2 }, { level: 40, index: 0 }]);
    expect(proof).toHaveLength(3);
    const last = appendLeaf({ size: 2 ** 40 - 1, hashes: Array<Uint8Array>(40).fill(new Uint8Array(32)) }, new Uint8Array(32));
    expect(last.nodes.at(-1)).toMatchObject({ level: 40, index: 0 });
  });
});

describe('refusals', () => {
  async function codeOf(work: () => unknown): Promise<string> {
    try {
      await work();
    } catch (error) {
      if (error instanceof InputError) return error.code;
      throw error;
    }
    throw new Error('expected an InputError, but nothing was thrown');
  }
  const tree = grown(7);

  test.each<[string, () => unknown, string]>([
    ['inclusion of a leaf beyond the tree', () => proveInclusion(tree.read, 7, 7), 'NO_SUCH_LEAF'],
    ['inclusion in the empty tree', () => proveInclusion(tree.read, 0, 0), 'NO_SUCH_LEAF'],
    ['a negative place', () => proveInclusion(tree.read, -1, 7), 'NOT_A_COUNT'],
    ['a place between two leaves', () => proveInclusion(tree.read, 0.5, 7), 'NOT_A_COUNT'],
    ['a size beyond exact numbers', () => rootAt(tree.read, 2 ** 53), 'NOT_A_COUNT'],
    ['consistency from size 0', () => proveConsistency(tree.read, 0, 7), 'NO_CONSISTENCY'],
    ['consistency from size 0 to 0', () => proveConsistency(tree.read, 0, 0), 'NO_CONSISTENCY'],
    ['consistency backwards', () => proveConsistency(tree.read, 7, 6), 'NO_CONSISTENCY'],
    ['a size that the store has not reached', () => rootAt(tree.read, 8), 'MISSING_NODE'],
    ['a store that answers short', () => rootAt(() => Promise.resolve([]), 7), 'MISSING_NODE'],
    ['a store whose hash is cut', () => rootAt((places) => Promise.resolve(places.map(() => new Uint8Array(31))), 7), 'MISSING_NODE'],
    ['a leaf hash of the wrong length', () => appendLeaf(EMPTY_FRONTIER, new Uint8Array(31)), 'NOT_A_HASH'],
    ['a frontier with a hash too few', () => appendLeaf({ size: 3, hashes: [new Uint8Array(32)] }, new Uint8Array(32)), 'BAD_FRONTIER'],
    ['a frontier with a hash too many', () => frontierRoot({ size: 4, hashes: [new Uint8Array(32), new Uint8Array(32)] }), 'BAD_FRONTIER'],
  ])('%s', async (_name, work, code) => {
    expect(await codeOf(work)).toBe(code);
  });
});
