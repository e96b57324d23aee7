import {
  EMPTY_FRONTIER, appendLeaf, leafHash, type Frontier, type NodePlace, type ReadNodes, type TreeNode,
} from '#libs/ledger';

/** A tree whose nodes lie in a map, as they would in a table, and that tells what was read and written. */
export interface StoredTree {
  readonly read: ReadNodes;
  readonly nodes: ReadonlyMap<string, Uint8Array>;
  append(data: Uint8Array): readonly TreeNode[];
  frontier(): Frontier;
  /** Places asked for since the last call, one array for each read. */
  takeReads(): NodePlace[][];
}

export function storedTree(): StoredTree {
  const nodes = new Map<string, Uint8Array>();
  let frontier = EMPTY_FRONTIER;
  let reads: NodePlace[][] = [];
  const key = ({ level, index }: NodePlace): string => `${level}/${index}`;
  return {
    nodes,
    read: (places) => {
      reads.push([...places]);
      // A place that is not stored comes back as nothing, which the library must notice.
      return Promise.resolve(places.map((place) => nodes.get(key(place)) as Uint8Array));
    },
    append: (data) => {
      const step = appendLeaf(frontier, leafHash(data));
      for (const node of step.nodes) {
        if (nodes.has(key(node))) throw new Error(`node ${key(node)} was written twice`);
        nodes.set(key(node), node.hash);
      }
      frontier = step.frontier;
      return step.nodes;
    },
    frontier: () => frontier,
    takeReads: () => {
      const taken = reads;
      reads = [];
      return taken;
    },
  };
}
