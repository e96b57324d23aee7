import { clausesFor, rawFacts, rawFactsTitle, sentence } from '#libs/telling';
import { kindCount, kindsWord, kindWord } from '../../../ui/kind-words.js';
import type { Node, Thread } from './exceptions.js';

export type Direction = 'down' | 'up';

/** One line, or many of one sort that open on demand. */
export type Entry =
  | { readonly sort: 'step'; readonly node: Node }
  | { readonly sort: 'fold'; readonly title: string; readonly nodes: readonly Node[] };

/** Entries that belong to one leaf, or to nothing in particular (no title). */
export interface Group {
  readonly key: string;
  readonly title: string | null;
  readonly entries: readonly Entry[];
}

/** One clause of the sentence: its heading and the records it speaks of. */
export interface Chapter {
  readonly key: string;
  readonly title: string;
  readonly groups: readonly Group[];
  readonly count: number;
}

/** More of one kind than this fold into one line. */
const MOST_UNFOLDED = 4;

const when = (node: Node): string => node.observedAt ?? node.recordedAt;
const byTime = (a: Node, b: Node): number => Date.parse(when(a)) - Date.parse(when(b)) || a.label.localeCompare(b.label, undefined, { numeric: true });

function foldTitle(kind: string, nodes: readonly Node[]): string {
  const labels = [...new Set(nodes.map(({ label }) => label))];
  const [label = ''] = labels;
  if (labels.length > 1) return `${kindCount(kind, nodes.length)}, ${label} to ${labels.at(-1)}`;
  if (label.startsWith(`${kindWord(kind)} `)) return `${nodes.length} ${kindsWord(kind)}${label.slice(kindWord(kind).length)}`;
  return label.startsWith('reading ') ? `${nodes.length} readings${label.slice('reading'.length)}` : `${kindCount(kind, nodes.length)}: ${label}`;
}

/** Steps as they are, folds where there are many: of one label where they share it, else of the whole kind. */
function entriesOf(nodes: readonly Node[], most = MOST_UNFOLDED): Entry[] {
  const byKind = grouped(nodes, ({ kind }) => kind);
  return [...byKind].flatMap(([kind, ofKind]): Entry[] => {
    const sorted = [...ofKind].sort(byTime);
    if (sorted.length <= most) return sorted.map((node) => ({ sort: 'step', node }));
    const byLabel = [...grouped(sorted, ({ label }) => label).values()];
    const parts = byLabel.length * 2 <= sorted.length ? byLabel : [[...sorted].sort((a, b) => a.label.localeCompare(b.label, undefined, { numeric: true }))];
    return parts.map((part) => (part.length === 1 ? { sort: 'step', node: part[0]! } : { sort: 'fold', title: foldTitle(kind, part), nodes: part }));
  });
}

/** Map.groupBy, which the oldest supported Node has not. */
function grouped<T>(items: readonly T[], keyOf: (item: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const key = keyOf(item);
    const group = groups.get(key);
    if (group) group.push(item);
    else groups.set(key, [item]);
  }
  return groups;
}

interface Links {
  readonly of: (id: string, kind: string) => readonly Node[];
}

function linksOf(thread: Thread): Links {
  const nodes = new Map(thread.nodes.map((node) => [node.id, node]));
  const below = grouped(thread.edges, ({ fromId }) => fromId);
  return {
    of: (id, kind) => {
      const met = (below.get(id) ?? []).flatMap(({ toId }) => nodes.get(toId) ?? []);
      return [...new Set(met)].filter((node) => node.kind === kind);
    },
  };
}

/** RWC series under the leaf they are of, each followed by its own weighings and readings; darks and references, which all share, at the end. */
function byLeaf(nodes: readonly Node[], links: Links, rootId: string): Group[] {
  const series = nodes.filter(({ kind }) => kind === 'rwc_series');
  const told = new Set<string>([rootId]);
  const seriesEntries = (each: Node): Entry[] => {
    const disc = links.of(each.id, 'disc')[0];
    const own = rawFacts.flatMap((kind) => links.of(each.id, kind)).filter((node) => !told.has(node.id) && (!disc || links.of(node.id, 'disc').includes(disc)));
    for (const { id } of own) told.add(id);
    return [{ sort: 'step', node: each }, ...entriesOf(own, 1)];
  };
  const leafOf = (each: Node): string => links.of(each.id, 'disc').flatMap((disc) => links.of(disc.id, 'leaf'))[0]?.label ?? '';
  const leaves = [...grouped(series, leafOf)].sort(([a], [b]) => a.localeCompare(b, undefined, { numeric: true }));
  const groups: Group[] = leaves.map(([leaf, ofLeaf]) => ({ key: `leaf ${leaf}`, title: leaf ? `Leaf ${leaf}` : null, entries: [...ofLeaf].sort(byTime).flatMap(seriesEntries) }));
  const rest = nodes.filter(({ kind, id }) => kind !== 'rwc_series' && !told.has(id));
  if (rest.length > 0) groups.push({ key: 'rest', title: series.length > 0 ? 'Shared by all, or used by none' : null, entries: entriesOf(rest) });
  return groups;
}

/**
 * The thread as a sentence: one chapter a clause, in the order of the chain and not of the walk, the root's own first.
 * Every node stands in exactly one chapter.
 *
 *     chaptersOf(thread, 'down').map(({ title }) => title)   // ["It was decided", "… after a unit had tripped", …]
 */
export function chaptersOf(thread: Thread, direction: Direction): readonly Chapter[] {
  const links = linksOf(thread);
  const clauses = clausesFor(thread.nodes.map(({ kind }) => kind), direction);
  const { root } = thread;
  const chapters = clauses.flatMap((clause): Chapter[] => {
    const nodes = thread.nodes.filter(({ kind, id }) => clause.kinds.includes(kind) && id !== root.id);
    if (nodes.length === 0) return [];
    const sorted = clause.kinds.flatMap((kind) => nodes.filter((node) => node.kind === kind));
    const groups = clause.kinds.includes('rwc_series') ? byLeaf(sorted, links, root.id) : [{ key: 'all', title: null, entries: entriesOf(sorted) }];
    const title = sorted.every(({ kind }) => rawFacts.includes(kind)) ? rawFactsTitle[direction] : clause[direction];
    return [{ key: clause.kinds[0]!, title, groups, count: nodes.length }];
  });
  const rootNode = thread.nodes.find(({ id }) => id === root.id);
  const opening = sentence.find(({ kinds }) => kinds.includes(root.kind));
  const title = direction === 'down' && opening === sentence[0] ? sentence[0]!.down : `This ${kindWord(root.kind)}`;
  return rootNode ? [{ key: 'root', title, groups: [{ key: 'all', title: null, entries: [{ sort: 'step', node: rootNode }] }], count: 1 }, ...chapters] : chapters;
}

/** Only the steps that `keep` wants; groups and chapters that lose all of theirs go too. */
export function keeping(chapters: readonly Chapter[], keep: (node: Node) => boolean): readonly Chapter[] {
  const entries = (entry: Entry): Entry[] => (entry.sort === 'step' ? [entry] : entry.nodes.map((node): Entry => ({ sort: 'step', node }))).filter((each) => each.sort === 'step' && keep(each.node));
  return chapters
    .map((chapter) => {
      const groups = chapter.groups.map((group) => ({ ...group, entries: group.entries.flatMap(entries) })).filter((group) => group.entries.length > 0);
      return { ...chapter, groups, count: groups.reduce((sum, group) => sum + group.entries.length, 0) };
    })
    .filter(({ count }) => count > 0);
}
