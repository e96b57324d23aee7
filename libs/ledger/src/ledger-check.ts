import { InputError } from '#libs/quantity';
import { verifyCheckpoint, type LedgerKey } from './checkpoint.js';
import { defaultSha256, sameHash, type Sha256 } from './content-hash.js';
import { entryLeaf, type LedgerEntry } from './entry.js';
import { EMPTY_FRONTIER, appendLeaf, frontierRoot, leafHash, type ReadNodes, type TreeNode } from './merkle-tree.js';

/** A whole ledger to check, and what to check it against. */
export interface WholeLedger {
  readonly labId: string;
  readonly origin: string;
  /** Every entry, from place 0 on, in the order of the ledger. */
  readonly entries: AsyncIterable<LedgerEntry> | Iterable<LedgerEntry>;
  /** Every checkpoint ever signed or kept, as text, in any order. */
  readonly checkpoints: readonly string[];
  readonly keys: readonly LedgerKey[];
  /** The stored nodes, where they are to be checked too. */
  readonly read?: ReadNodes;
}

/** What a check of a whole ledger found: nothing wrong, when `flaws` is empty. */
export interface LedgerCheck {
  /** Entries read. */
  readonly size: number;
  /** Root of the tree over them, computed from the entries alone. */
  readonly root: Uint8Array;
  readonly flaws: readonly LedgerFlaw[];
}

export interface LedgerFlaw {
  /** The entry, checkpoint or node in question. */
  readonly about: string;
  /** A sentence in plain words. */
  readonly says: string;
}

/** Nodes compared in one read. */
const BATCH = 1000;

/**
 * Builds the tree of a ledger again from its entries alone and compares it with every checkpoint and every stored node.
 *
 * It is the check to run after a restore, every night, and after every test that writes. Appending trusts the stored
 * right edge; this trusts nothing, and costs one hash or two an entry.
 */
export async function checkLedger(ledger: WholeLedger, sha256: Sha256 = defaultSha256): Promise<LedgerCheck> {
  const { flaws, roots } = readCheckpoints(ledger);
  const seen = new Set<string>();
  let frontier = EMPTY_FRONTIER;
  let pending: TreeNode[] = [];
  const compareRoot = (): void => {
    const known = roots.get(frontier.size);
    if (!known) return;
    roots.delete(frontier.size);
    const root = frontierRoot(frontier, sha256);
    if (!known.every((own) => sameHash(own, root))) {
      const says = 'The entries do not lead to the root that was signed: some were changed, dropped, inserted or moved.';
      flaws.push({ about: `checkpoint over ${frontier.size} entries`, says });
    }
  };
  compareRoot();
  for await (const entry of ledger.entries) {
    const leaf = leafOf(entry, frontier.size, ledger.labId, seen, flaws, sha256);
    if (!leaf) break;
    const step = appendLeaf(frontier, leaf, sha256);
    frontier = step.frontier;
    pending.push(...step.nodes);
    if (pending.length >= BATCH) {
      await compareNodes(ledger.read, pending, flaws);
      pending = [];
    }
    compareRoot();
  }
  await compareNodes(ledger.read, pending, flaws);
  for (const size of [...roots.keys()].sort((a, b) => a - b)) {
    const says = `The ledger has only ${frontier.size} entries: some are missing, or it was set back.`;
    flaws.push({ about: `checkpoint over ${size} entries`, says });
  }
  return { size: frontier.size, root: frontierRoot(frontier, sha256), flaws };
}

/** The signed roots by size. Two checkpoints of one size must have one root; both are kept and compared. */
function readCheckpoints({ checkpoints, origin, keys }: WholeLedger): { flaws: LedgerFlaw[]; roots: Map<number, Uint8Array[]> } {
  const flaws: LedgerFlaw[] = [];
  const roots = new Map<number, Uint8Array[]>();
  checkpoints.forEach((text, i) => {
    const verdict = verifyCheckpoint(text, origin, keys);
    if (!verdict.holds) {
      flaws.push({ about: `checkpoint ${i + 1} of ${checkpoints.length}`, says: `It cannot be believed: ${verdict.why}.` });
      return;
    }
    const { size, root } = verdict.checkpoint;
    const known = roots.get(size);
    if (known) known.push(root);
    else roots.set(size, [root]);
  });
  return { flaws, roots };
}

/** The leaf hash of an entry, or undefined when it is none: what follows it could not be placed. */
function leafOf(
  entry: LedgerEntry, place: number, labId: string, seen: Set<string>, flaws: LedgerFlaw[], sha256: Sha256,
): Uint8Array | undefined {
  const about = `entry at place ${place}`;
  if (entry.labId !== labId) flaws.push({ about, says: `It is of the lab ${entry.labId}.` });
  if (seen.has(entry.id)) flaws.push({ about, says: `The entry ${entry.id} stands in the ledger twice.` });
  seen.add(entry.id);
  try {
    return leafHash(entryLeaf(entry), sha256);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    flaws.push({ about, says: `It is no entry. ${error.message}` });
    return undefined;
  }
}

async function compareNodes(read: ReadNodes | undefined, nodes: readonly TreeNode[], flaws: LedgerFlaw[]): Promise<void> {
  if (!read || nodes.length === 0) return;
  const stored = await read(nodes.map(({ level, index }) => ({ level, index })));
  nodes.forEach(({ level, index, hash }, i) => {
    const own = stored[i];
    if (!own) flaws.push({ about: `node (${level}, ${index})`, says: 'It is not stored.' });
    else if (!sameHash(own, hash)) flaws.push({ about: `node (${level}, ${index})`, says: 'The stored hash is not that of the entries.' });
  });
}
