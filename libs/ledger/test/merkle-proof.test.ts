import fc from 'fast-check';
import {
  leafHash, proveConsistency, proveInclusion, rootAt, verifyConsistency, verifyInclusion, type ConsistencyClaim, type InclusionClaim,
} from '#libs/ledger';
import { CONSISTENCY_CASES, HASHES, INCLUSION_CASES } from './merkle-vectors.js';
import { storedTree } from './stored-tree.js';

const hashOf = (name: string): Uint8Array => {
  const hex = HASHES[name];
  if (hex === undefined) throw new Error(`no hash is called ${name}`);
  return new Uint8Array(Buffer.from(hex, 'hex'));
};

describe('inclusion: published vectors', () => {
  test.each(INCLUSION_CASES)('%s %i of %i, %s %j %s %s', (verdict, index, size, leaf, proof, root) => {
    const claim = { index, size, leafHash: hashOf(leaf), proof: proof.map(hashOf), root: hashOf(root) };
    expect(verifyInclusion(claim).holds).toBe(verdict === 'good');
  });

  test('most of them are negative', () => {
    expect(INCLUSION_CASES.filter(([verdict]) => verdict === 'good').length).toBeGreaterThanOrEqual(2);
    expect(INCLUSION_CASES.filter(([verdict]) => verdict === 'bad').length).toBeGreaterThanOrEqual(30);
  });
});

describe('consistency: published vectors', () => {
  test.each(CONSISTENCY_CASES)('%s %i %s to %i %s %j %s', (verdict, oldSize, oldRoot, newSize, newRoot, proof) => {
    const claim = { oldSize, oldRoot: hashOf(oldRoot), newSize, newRoot: hashOf(newRoot), proof: proof.map(hashOf) };
    expect(verifyConsistency(claim).holds).toBe(verdict === 'good');
  });

  test('most of them are negative', () => {
    expect(CONSISTENCY_CASES.filter(([verdict]) => verdict === 'good').length).toBeGreaterThanOrEqual(3);
    expect(CONSISTENCY_CASES.filter(([verdict]) => verdict === 'bad').length).toBeGreaterThanOrEqual(30);
  });
});

/** A copy of the hash with one bit of one byte turned. */
function turned(hash: Uint8Array, at: number, bit: number): Uint8Array {
  const copy = hash.slice();
  copy[at] = (copy[at] as number) ^ (1 << bit);
  return copy;
}

/** Each list with one hash turned, dropped, doubled, swapped with the next, or one added at either end. */
function damagedLists(proof: readonly Uint8Array[]): Uint8Array[][] {
  const lists: Uint8Array[][] = [[...proof, new Uint8Array(32)], [new Uint8Array(32), ...proof], [...proof, new Uint8Array(0)]];
  proof.forEach((hash, i) => {
    for (let at = 0; at < hash.length; at++) lists.push(proof.map((own, j) => (i === j ? turned(own, at, (at + i) % 8) : own)));
    lists.push(proof.filter((_, j) => j !== i));
    lists.push([...proof.slice(0, i), hash, ...proof.slice(i)]);
    lists.push(proof.map((own, j) => (i === j ? own.slice(1) : own)));
    const next = proof[i + 1];
    if (next) lists.push([...proof.slice(0, i), next, hash, ...proof.slice(i + 2)]);
  });
  return lists;
}

describe('damage to any byte is found', () => {
  const tree = storedTree();
  const data = Array.from({ length: 40 }, (_, i) => new TextEncoder().encode(`entry ${i}`));
  data.forEach((entry) => tree.append(entry));

  async function inclusionClaim(index: number, size: number): Promise<InclusionClaim> {
    return {
      index, size, leafHash: leafHash(data[index] as Uint8Array),
      proof: await proveInclusion(tree.read, index, size), root: await rootAt(tree.read, size),
    };
  }

  async function consistencyClaim(oldSize: number, newSize: number): Promise<ConsistencyClaim> {
    return {
      oldSize, newSize, oldRoot: await rootAt(tree.read, oldSize), newRoot: await rootAt(tree.read, newSize),
      proof: await proveConsistency(tree.read, oldSize, newSize),
    };
  }

  test.each([[0, 1], [0, 2], [6, 7], [3, 8], [11, 21], [31, 32], [32, 33], [39, 40]])('inclusion of %i in %i', async (index, size) => {
    const claim = await inclusionClaim(index, size);
    expect(verifyInclusion(claim).holds).toBe(true);
    for (let at = 0; at < 32; at++) {
      expect(verifyInclusion({ ...claim, leafHash: turned(claim.leafHash, at, at % 8) }).holds).toBe(false);
      expect(verifyInclusion({ ...claim, root: turned(claim.root, at, at % 8) }).holds).toBe(false);
    }
    for (const proof of damagedLists(claim.proof)) expect(verifyInclusion({ ...claim, proof }).holds).toBe(false);
  });

  test.each([[1, 2], [1, 7], [4, 7], [6, 8], [7, 21], [31, 32], [32, 33], [33, 40]])('consistency of %i with %i', async (oldSize, newSize) => {
    const claim = await consistencyClaim(oldSize, newSize);
    expect(verifyConsistency(claim).holds).toBe(true);
    for (let at = 0; at < 32; at++) {
      expect(verifyConsistency({ ...claim, oldRoot: turned(claim.oldRoot, at, at % 8) }).holds).toBe(false);
      expect(verifyConsistency({ ...claim, newRoot: turned(claim.newRoot, at, at % 8) }).holds).toBe(false);
    }
    for (const proof of damagedLists(claim.proof)) expect(verifyConsistency({ ...claim, proof }).holds).toBe(false);
    expect(verifyConsistency({ ...claim, oldRoot: claim.newRoot, newRoot: claim.oldRoot }).holds).toBe(false);
  });

  test('a history that was rewritten has no consistency proof out of the true one', async () => {
    await fc.assert(fc.asyncProperty(fc.integer({ min: 1, max: 39 }), fc.nat(38), async (oldSize, changed) => {
      const forged = storedTree();
      data.forEach((entry, i) => forged.append(i === changed % oldSize ? new TextEncoder().encode('forged') : entry));
      const claim = {
        oldSize, newSize: 40, oldRoot: await rootAt(tree.read, oldSize), newRoot: await rootAt(forged.read, 40),
        proof: await proveConsistency(forged.read, oldSize, 40),
      };
      expect(verifyConsistency(claim).holds).toBe(false);
    }), { seed: 9162, numRuns: 200 });
  });

  test('whatever is handed in, nothing throws, and what is no number of entries does not hold', () => {
    const number = fc.oneof(fc.integer(), fc.double(), fc.constant(Number.MAX_SAFE_INTEGER), fc.constant(2 ** 64));
    const hash = fc.uint8Array({ minLength: 30, maxLength: 33 });
    fc.assert(fc.property(number, number, hash, hash, fc.array(hash, { maxLength: 60 }), (a, b, h1, h2, proof) => {
      expect(verifyInclusion({ index: a, size: b, leafHash: h1, root: h2, proof }).holds).toBe(false);
      const same = a === b && Buffer.compare(h1, h2) === 0 && proof.length === 0;
      if (!same) expect(verifyConsistency({ oldSize: a, newSize: b, oldRoot: h1, newRoot: h2, proof }).holds).toBe(false);
    }), { seed: 9162, numRuns: 1000 });
  });
});

describe('why a proof does not hold', () => {
  test('size 0 is refused for consistency, with or without a proof', () => {
    const root = hashOf('root8');
    for (const newSize of [0, 1, 8]) {
      expect(verifyConsistency({ oldSize: 0, newSize, oldRoot: root, newRoot: root, proof: [] }).holds).toBe(false);
      expect(verifyConsistency({ oldSize: 0, newSize, oldRoot: hashOf('root0'), newRoot: root, proof: [] }).holds).toBe(false);
    }
  });

  test('says why in plain words', () => {
    expect(verifyConsistency({ oldSize: 8, newSize: 7, oldRoot: hashOf('root8'), newRoot: hashOf('root8'), proof: [] }))
      .toEqual({ holds: false, why: 'the ledger of 7 entries is shorter than the earlier one of 8' });
    expect(verifyInclusion({ index: 8, size: 8, leafHash: hashOf('leaf0'), root: hashOf('root8'), proof: [] }))
      .toEqual({ holds: false, why: 'there is no entry 8 in a ledger of 8' });
  });

  test('tells a proof that is too long or too short from one that is wrong', () => {
    const root = hashOf('root8');
    const consistency = { oldSize: 8, newSize: 16, oldRoot: root, newRoot: root };
    expect(verifyConsistency({ ...consistency, proof: [root, root] })).toEqual({ holds: false, why: 'the consistency proof is longer than the tree is high' });
    expect(verifyConsistency({ ...consistency, newSize: 17, proof: [root] })).toEqual({ holds: false, why: 'the consistency proof is shorter than the tree is high' });
    expect(verifyConsistency({ ...consistency, proof: [] })).toEqual({ holds: false, why: 'the consistency proof is empty' });
    const inclusion = { index: 0, size: 2, leafHash: root, root };
    expect(verifyInclusion({ ...inclusion, proof: [root, root] })).toEqual({ holds: false, why: 'the inclusion proof is longer than the tree is high' });
    expect(verifyInclusion({ ...inclusion, proof: [] })).toEqual({ holds: false, why: 'the inclusion proof is shorter than the tree is high' });
  });
});
