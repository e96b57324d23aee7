import { concatBytes } from '@noble/hashes/utils.js';
import { InputError } from '#libs/quantity';
import { HASH_LENGTH, defaultSha256, type Sha256 } from './content-hash.js';

/**
 * The Merkle tree of RFC 9162 section 2.1 over the entries of a ledger.
 *
 * A tree of n leaves is never rebuilt. What is stored are the hashes of its complete subtrees: the node at level k,
 * place i, covers the leaves i*2^k up to (i+1)*2^k - 1 and, once written, never changes, however much the tree grows.
 * Any root and any proof, of this or of any earlier size, is folded from at most 2*log2(n) of them
 * (Crosby and Wallach, "Efficient Data Structures for Tamper-Evident Logging", USENIX Security 2009).
 *
 * Sizes and places are JavaScript numbers, exact to 2^53 - 1. Shifts are written as divisions, since the language's
 * own work on 32 bits only.
 */

/** A complete subtree of 2^level leaves, the index-th of its level counted from the left, from 0. */
export interface NodePlace {
  readonly level: number;
  readonly index: number;
}

/** A complete subtree with its hash: the row to store. Level 0 is the leaf hash itself. */
export interface TreeNode extends NodePlace {
  readonly hash: Uint8Array;
}

/**
 * Reads stored nodes, in the order asked for. One call fetches all that one root or one proof needs, so that a
 * database answers with one statement.
 */
export type ReadNodes = (places: readonly NodePlace[]) => Promise<readonly Uint8Array[]>;

/**
 * The right edge of a tree: the hashes of the complete subtrees that its size is made of, the largest first, one for
 * each 1 bit of the size. Enough to append and to give the root, without the rest of the tree.
 */
export interface Frontier {
  readonly size: number;
  readonly hashes: readonly Uint8Array[];
}

/** The tree before its first leaf. */
export const EMPTY_FRONTIER: Frontier = { size: 0, hashes: [] };

const LEAF_PREFIX = Uint8Array.of(0x00);
const NODE_PREFIX = Uint8Array.of(0x01);

/** Hash of a leaf, SHA-256(0x00 || data): RFC 9162 section 2.1.1. The prefix keeps a leaf from passing for a node. */
export function leafHash(data: Uint8Array, sha256: Sha256 = defaultSha256): Uint8Array {
  return sha256(concatBytes(LEAF_PREFIX, data));
}

/** Hash of an inner node, SHA-256(0x01 || left || right): RFC 9162 section 2.1.1. */
export function nodeHash(left: Uint8Array, right: Uint8Array, sha256: Sha256 = defaultSha256): Uint8Array {
  return sha256(concatBytes(NODE_PREFIX, left, right));
}

/** Root of the tree without leaves, SHA-256 of nothing: RFC 9162 section 2.1.1. */
export function emptyRoot(sha256: Sha256 = defaultSha256): Uint8Array {
  return sha256(new Uint8Array(0));
}

/**
 * The tree with one leaf more, and the nodes to store for it: the leaf, and each subtree that it completes. Over n
 * leaves that makes less than 2n nodes, at most 1 + log2(n) at once; nothing is read and no stored node changes.
 *
 * @param hash the new leaf's {@link leafHash}
 * @example
 * const { frontier, nodes } = appendLeaf(await readFrontier(read, size), leafHash(entryLeaf(entry)));
 */
export function appendLeaf(
  frontier: Frontier,
  hash: Uint8Array,
  sha256: Sha256 = defaultSha256,
): { readonly frontier: Frontier; readonly nodes: readonly TreeNode[] } {
  requireFrontier(frontier);
  requireHash('hash', hash);
  const hashes = [...frontier.hashes];
  let node: TreeNode = { level: 0, index: frontier.size, hash };
  const nodes = [node];
  // An odd place has its left sibling on the frontier: together they are the next level's node.
  while (node.index % 2 === 1) {
    const left = hashes.pop() as Uint8Array;
    node = { level: node.level + 1, index: (node.index - 1) / 2, hash: nodeHash(left, node.hash, sha256) };
    nodes.push(node);
  }
  hashes.push(node.hash);
  return { frontier: { size: frontier.size + 1, hashes }, nodes };
}

/** The root of the tree whose right edge this is: RFC 9162 section 2.1.1. */
export function frontierRoot(frontier: Frontier, sha256: Sha256 = defaultSha256): Uint8Array {
  requireFrontier(frontier);
  return frontier.size === 0 ? emptyRoot(sha256) : fold(frontier.hashes, sha256);
}

/** The right edge of the stored tree at a size, for appending or for its root. */
export async function readFrontier(read: ReadNodes, size: number): Promise<Frontier> {
  requireSize('size', size);
  return { size, hashes: await readAll(read, subtreesOf({ start: 0, end: size })) };
}

/** The root of the stored tree at this or any earlier size. */
export async function rootAt(read: ReadNodes, size: number, sha256: Sha256 = defaultSha256): Promise<Uint8Array> {
  return frontierRoot(await readFrontier(read, size), sha256);
}

/**
 * The inclusion proof of one leaf, PATH(index, D[size]) of RFC 9162 section 2.1.3.1: with the leaf hash it gives the
 * root. At most ceil(log2(size)) hashes.
 *
 * @param index the leaf's place, from 0
 * @throws InputError `NO_SUCH_LEAF` unless index < size, `MISSING_NODE` when the store does not have the tree whole
 */
export async function proveInclusion(
  read: ReadNodes,
  index: number,
  size: number,
  sha256: Sha256 = defaultSha256,
): Promise<readonly Uint8Array[]> {
  requireSize('index', index);
  requireSize('size', size);
  if (index >= size) {
    throw new InputError('NO_SUCH_LEAF', 'index', `there is no leaf ${index} in a tree of ${size}`,
      'Give the place of an entry that has been sequenced, counted from 0.');
  }
  return readRanges(read, inclusionRanges(index, size), sha256);
}

/**
 * The proof that the tree of `newSize` begins with the tree of `oldSize`, PROOF(oldSize, D[newSize]) of RFC 9162
 * section 2.1.4.1. Empty when the sizes are equal.
 *
 * @throws InputError `NO_CONSISTENCY` unless 0 < oldSize <= newSize: every tree begins with the empty one, so that a
 *   proof from size 0 would show nothing. `MISSING_NODE` when the store does not have the tree whole.
 */
export async function proveConsistency(
  read: ReadNodes,
  oldSize: number,
  newSize: number,
  sha256: Sha256 = defaultSha256,
): Promise<readonly Uint8Array[]> {
  requireSize('oldSize', oldSize);
  requireSize('newSize', newSize);
  if (oldSize === 0 || oldSize > newSize) {
    throw new InputError('NO_CONSISTENCY', 'oldSize', `no proof leads from size ${oldSize} to size ${newSize}`,
      'Give two sizes of one ledger, the earlier first, neither of them 0.');
  }
  return oldSize === newSize ? [] : readRanges(read, consistencyRanges(oldSize, newSize), sha256);
}

/** The leaves start up to end - 1, as a subtree of the tree: each element of a proof is the hash of one. */
interface LeafRange {
  readonly start: number;
  readonly end: number;
}

/** The siblings met on the way from a leaf up to the root, the lowest first. */
function inclusionRanges(index: number, size: number): LeafRange[] {
  const siblings: LeafRange[] = [];
  let range: LeafRange = { start: 0, end: size };
  while (range.end - range.start > 1) {
    const { left, right } = halves(range);
    const isLeft = index < left.end;
    siblings.push(isLeft ? right : left);
    range = isLeft ? left : right;
  }
  return siblings.reverse();
}

/** SUBPROOF of RFC 9162 section 2.1.4.1, unrolled: descend along the old tree's right edge, then name what was passed. */
function consistencyRanges(oldSize: number, newSize: number): LeafRange[] {
  const passed: LeafRange[] = [];
  let range: LeafRange = { start: 0, end: newSize };
  while (range.end !== oldSize) {
    const { left, right } = halves(range);
    const edgeIsLeft = oldSize <= left.end;
    passed.push(edgeIsLeft ? right : left);
    range = edgeIsLeft ? left : right;
  }
  // Where the old tree is itself this subtree, the verifier has its root already.
  if (range.start !== 0) passed.push(range);
  return passed.reverse();
}

/** The two subtrees of a range: the left one has the largest power of two leaves that is below the whole. */
function halves({ start, end }: LeafRange): { left: LeafRange; right: LeafRange } {
  let width = 1;
  while (width * 2 < end - start) width *= 2;
  return { left: { start, end: start + width }, right: { start: start + width, end } };
}

/** The complete subtrees that a range is made of, from left to right: one for each 1 bit of its length. */
function subtreesOf({ start, end }: LeafRange): NodePlace[] {
  const places: NodePlace[] = [];
  let from = start;
  while (from < end) {
    let level = 0;
    let width = 1;
    while (width * 2 <= end - from) {
      width *= 2;
      level += 1;
    }
    places.push({ level, index: from / width });
    from += width;
  }
  return places;
}

async function readRanges(read: ReadNodes, ranges: readonly LeafRange[], sha256: Sha256): Promise<Uint8Array[]> {
  const wanted = ranges.map(subtreesOf);
  const hashes = await readAll(read, wanted.flat());
  let next = 0;
  return wanted.map((places) => {
    const own = hashes.slice(next, next + places.length);
    next += places.length;
    return fold(own, sha256);
  });
}

/** Hash of a subtree from its complete parts, left to right: the rightmost two first, since the right one is smaller. */
function fold(parts: readonly Uint8Array[], sha256: Sha256): Uint8Array {
  return parts.reduceRight((right, left) => nodeHash(left, right, sha256));
}

async function readAll(read: ReadNodes, places: readonly NodePlace[]): Promise<readonly Uint8Array[]> {
  if (places.length === 0) return [];
  const hashes = await read(places);
  places.forEach(({ level, index }, i) => {
    if (hashes[i]?.length !== HASH_LENGTH) {
      throw new InputError('MISSING_NODE', `node (${level}, ${index})`, 'the store has no hash for it',
        'The tree is damaged or still being written: rebuild its nodes from the entries.');
    }
  });
  return hashes;
}

function requireFrontier({ size, hashes }: Frontier): void {
  requireSize('frontier.size', size);
  let ones = 0;
  for (let rest = size; rest > 0; rest = Math.floor(rest / 2)) ones += rest % 2;
  if (hashes.length !== ones) {
    throw new InputError('BAD_FRONTIER', 'frontier.hashes', `a tree of ${size} has a right edge of ${ones} hashes, got ${hashes.length}`,
      'Read the frontier again at this size.');
  }
}

function requireHash(field: string, hash: Uint8Array): void {
  if (hash.length !== HASH_LENGTH) {
    throw new InputError('NOT_A_HASH', field, `expected ${HASH_LENGTH} bytes, got ${hash.length}`, 'Give a SHA-256 hash.');
  }
}

function requireSize(field: string, value: number): void {
  if (!Number.isSafeInteger(value) || value < 0) {
    throw new InputError('NOT_A_COUNT', field, `expected a whole number from 0 to 2^53 - 1, got ${value}`, 'Count entries from 0.');
  }
}
