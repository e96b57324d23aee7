/** One record of a Thread, as the contract tells it. */
export interface ThreadNode {
  readonly kind: string;
  readonly id: string;
  readonly label: string;
  readonly depth: number;
  readonly summary: string;
  readonly rawLine: string | null;
  readonly observedAt: string | null;
  readonly recordedAt: string;
  readonly recordedBy: { readonly displayName: string };
  readonly instrument: string | null;
  readonly instrumentStatusThen: string | null;
  readonly amendedBy: {
    readonly reasonCode: string;
    readonly reason: string;
    readonly recordedAt: string;
    readonly recordedBy: { readonly displayName: string };
  } | null;
  readonly stale: boolean;
  readonly contentHash: string;
  readonly remarks: readonly { readonly code: string; readonly severity: string; readonly message: string }[];
}

export interface Thread {
  readonly root: { readonly id: string };
  /** Each record once, nearest first. */
  readonly nodes: readonly ThreadNode[];
  readonly edges: readonly { readonly fromId: string; readonly toId: string; readonly role: string }[];
  readonly truncated: boolean;
}

/** What `thread` must be asked for. */
export const THREAD_FIELDS = `
  root { id }
  nodes {
    kind id label depth summary rawLine observedAt recordedAt recordedBy { displayName } instrument instrumentStatusThen
    amendedBy { reasonCode reason recordedAt recordedBy { displayName } } stale contentHash remarks { code severity message }
  }
  edges { fromId toId role }
  truncated`;

export interface Telling {
  readonly direction: 'DOWN' | 'UP';
  /** Every record in full, however many are alike. */
  readonly all: boolean;
}

/** So many alike beside each other are still read one by one. */
const MOST_ALIKE = 12;

/**
 * A Thread as text: each record once, below the nearest record that leads to it, one step further in. More than 12 of a
 * kind beside each other are told in one line, except those that want a look: amended, stale, remarked, or made with an
 * instrument that was not in check.
 *
 * @returns lines without a line end
 */
export function tellThread(thread: Thread, { direction, all }: Telling): string[] {
  const children = childrenOf(thread, direction);
  const lines: string[] = [];
  const tell = (siblings: readonly ThreadNode[], step: number): void => {
    for (const alike of groupByKind(siblings)) {
      const plain = all ? [] : alike.filter((node) => !wantsLook(node));
      const folded = new Set(plain.length > MOST_ALIKE ? plain : []);
      for (const node of alike.filter((candidate) => !folded.has(candidate))) {
        lines.push(...linesOf(node).map((line) => indent(step) + line));
        tell(children.get(node.id) ?? [], step + 1);
      }
      if (folded.size === 0) continue;
      lines.push(indent(step) + foldedLine([...folded]));
      tell([...folded].flatMap(({ id }) => children.get(id) ?? []), step + 1);
    }
  };
  tell(thread.nodes.filter(({ id }) => id === thread.root.id), 0);
  const stepsIn = Math.max(...thread.nodes.map(({ depth }) => depth));
  lines.push('', `${thread.nodes.length} ${thread.nodes.length === 1 ? 'record' : 'records'}, ${stepsIn} ${stepsIn === 1 ? 'step' : 'steps'} ${direction === 'DOWN' ? 'down' : 'up'}.`);
  if (thread.truncated) lines.push('There are more: the server hands out no more at once. Ask for the thread of a record further along.');
  return lines;
}

/** By record: those whose first way from the root leads through it. */
function childrenOf({ nodes, edges }: Thread, direction: Telling['direction']): Map<string, ThreadNode[]> {
  const byId = new Map(nodes.map((node) => [node.id, node]));
  const parents = new Map<string, string>();
  for (const { fromId, toId } of edges) {
    const [nearId, farId] = direction === 'DOWN' ? [fromId, toId] : [toId, fromId];
    const [near, far] = [byId.get(nearId), byId.get(farId)];
    if (near && far && far.depth === near.depth + 1 && !parents.has(farId)) parents.set(farId, nearId);
  }
  const children = new Map<string, ThreadNode[]>();
  for (const node of nodes) {
    const parent = parents.get(node.id);
    if (parent === undefined) continue;
    const siblings = children.get(parent);
    if (siblings) siblings.push(node);
    else children.set(parent, [node]);
  }
  return children;
}

function groupByKind(nodes: readonly ThreadNode[]): ThreadNode[][] {
  const groups = new Map<string, ThreadNode[]>();
  for (const node of nodes) groups.set(node.kind, [...(groups.get(node.kind) ?? []), node]);
  return [...groups.values()].map((group) => group.sort((a, b) => momentOf(a) - momentOf(b) || (a.id < b.id ? -1 : 1)));
}

const wantsLook = (node: ThreadNode): boolean =>
  node.stale || node.amendedBy !== null || node.remarks.length > 0 || (node.instrumentStatusThen ?? 'IN_CHECK') !== 'IN_CHECK';

const indent = (step: number): string => '  '.repeat(step);
const words = (code: string): string => code.toLowerCase().replaceAll('_', ' ');
const whenOf = ({ observedAt, recordedAt }: ThreadNode): string => observedAt ?? recordedAt;
const momentOf = (node: ThreadNode): number => Date.parse(whenOf(node));

function linesOf(node: ThreadNode): string[] {
  const { observedAt, recordedAt, amendedBy } = node;
  const when = observedAt ? `observed ${observedAt}, recorded ${recordedAt}` : `recorded ${recordedAt}`;
  const lines = [`${node.label}: ${node.summary}`, `  ${when} by ${node.recordedBy.displayName}${instrumentOf(node)}`];
  if (node.rawLine !== null) lines.push(...node.rawLine.split('\n').map((line) => `  | ${line}`));
  for (const { severity, message } of node.remarks) lines.push(`  ${severity === 'ASK' ? 'asked' : 'remark'}: ${message}`);
  if (amendedBy) {
    lines.push(`  AMENDED ${amendedBy.recordedAt} by ${amendedBy.recordedBy.displayName}, ${words(amendedBy.reasonCode)}: ${amendedBy.reason}`);
  }
  if (node.stale) lines.push('  STALE: a fact it rests on has been amended since');
  return lines;
}

function instrumentOf({ instrument, instrumentStatusThen, kind }: ThreadNode): string {
  if (instrument === null) return '';
  const status = instrumentStatusThen ? `${words(instrumentStatusThen)} then` : '';
  // An instrument is its own instrument.
  if (kind === 'instrument') return status && `, ${status}`;
  return `, ${instrument}${status && ` (${status})`}`;
}

function foldedLine(nodes: readonly ThreadNode[]): string {
  const people = [...new Set(nodes.map(({ recordedBy }) => recordedBy.displayName))].join(', ');
  const instruments = [...new Set(nodes.map(instrumentOf))].join('');
  return `${nodes.length} records of ${words(nodes[0]!.kind)}, ${whenOf(nodes[0]!)} to ${whenOf(nodes.at(-1)!)} by ${people}${instruments} (--all lists them)`;
}
