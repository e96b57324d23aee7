import { clausesFor, exceptionWords, merelyTold, rawFacts } from '#libs/telling';
import { heading, notice, paragraph, subheading, table, written, type Part } from '../../../platform/paper/index.js';
import type { ThreadNodeView } from '../../thread/thread.service.js';
import type { PaperMaterial } from './material.js';
import { instrumentText, kindText, momentText, when, who } from './words.js';

/** Rows of one table, and raw lines in all: what a person can read. The rest stands in the tables of the pack. */
const MOST_ROWS = 300;
const MOST_LINES = 1_200;

/** Told among the raw lines, one a row. */
const LINES: readonly string[] = [...rawFacts, 'trip_test'];

/** The record itself, and then the sentence clause by clause: what, when, who, with which instrument. */
export function chainParts(material: PaperMaterial): Part[] {
  const { thread, direction } = material;
  const told = thread.nodes.filter(({ id, kind }) => id !== thread.root.id && !LINES.includes(kind));
  const way = direction === 'DOWN' ? 'down' : 'up';
  const parts = clausesFor(told.map(({ kind }) => kind), way).flatMap((clause): Part[] => {
    const nodes = clause.kinds.flatMap((kind) => told.filter((node) => node.kind === kind).sort(byTime));
    if (nodes.length === 0) return [];
    return [nodesTable(material, nodes, clause[way])];
  });
  return [
    heading(direction === 'DOWN' ? 'The chain, down to the masses' : 'The chain, up to the decisions', { pageBreak: true }),
    nodesTable(material, [thread.root], `This ${kindText(thread.root.kind)}`),
    ...parts,
  ];
}

const byTime = (a: ThreadNodeView, b: ThreadNodeView): number =>
  Date.parse(a.observedAt ?? a.recordedAt) - Date.parse(b.observedAt ?? b.recordedAt) || a.label.localeCompare(b.label, 'en', { numeric: true }) || (a.id < b.id ? -1 : 1);

const marksOf = ({ exceptions }: ThreadNodeView): string => exceptions.filter((name) => !merelyTold.has(name)).map((name) => exceptionWords[name].mark).join(', ');

function nodesTable(material: PaperMaterial, nodes: readonly ThreadNodeView[], title: string): Part {
  const left = nodes.length - MOST_ROWS;
  return table<ThreadNodeView>([
    { head: 'When', cell: when, width: 78 },
    { head: 'What', cell: (node) => whatPart(node) },
    { head: 'Who, with', cell: (node) => [who(material, node.recordedById), instrumentText(node)].filter((text) => text !== '').join('\n'), width: 112 },
    { head: 'Content', cell: ({ contentHash }) => contentHash.slice(0, 12), width: 58, face: 'Raw' },
  ], nodes.slice(0, MOST_ROWS), { title, ...(left > 0 && { note: `${left} more are not printed here.` }) });
}

function whatPart(node: ThreadNodeView): Part {
  const marks = marksOf(node);
  return {
    stack: [
      written(node.label, { bold: true }),
      ...(node.summary ? [written(node.summary)] : []),
      ...node.remarks.map(({ message }) => written(message, { italics: true })),
      ...(marks ? [written(`! ${marks}`, { bold: true, color: '#754700' })] : []),
    ],
  };
}

/** Masses, readings and trip tests, each with the line as the instrument wrote it. */
export function lineParts(material: PaperMaterial): Part[] {
  const nodes = material.thread.nodes.filter(({ kind, id }) => LINES.includes(kind) && id !== material.thread.root.id);
  if (nodes.length === 0) return [];
  let room = MOST_LINES;
  const parts = LINES.flatMap((kind): Part[] => {
    const ofKind = nodes.filter((node) => node.kind === kind).sort((a, b) => a.label.localeCompare(b.label, 'en', { numeric: true }) || byTime(a, b));
    if (ofKind.length === 0) return [];
    const shown = ofKind.slice(0, room);
    room -= shown.length;
    const left = ofKind.length - shown.length;
    return [
      subheading(`${ofKind.length} ${kindText(kind)}${ofKind.length === 1 ? '' : 's'}`),
      ...blocksOf(material, shown),
      ...(left > 0 ? [paragraph(`${left} more are not printed here${material.packed ? `: tables/${kind}.csv has all of them` : ''}.`)] : []),
    ];
  });
  return [
    heading('Masses, readings and tests, line by line', { pageBreak: true }),
    paragraph('Time, what was read, and after the bar the line as the instrument, the file or the person wrote it, letter by letter; control characters are named, for example [TAB].'),
    ...parts,
  ];
}

/** Lines that share what, day, person and instrument stand under one head: a table of a thousand rows takes seconds to lay out, and is read by nobody. */
function blocksOf(material: PaperMaterial, nodes: readonly ThreadNodeView[]): Part[] {
  const blocks = new Map<string, string[]>();
  const widest = Math.min(44, Math.max(...nodes.map(({ summary }) => summary.length)));
  for (const node of nodes) {
    const [day = '', clock = '', zone = ''] = when(node).split(' ');
    const head = [node.label, `${day} ${zone}`, who(material, node.recordedById), instrumentText(node)].filter((text) => text !== '').join(' · ');
    const lines = blocks.get(head) ?? [];
    lines.push(`${clock.padEnd(8)}  ${node.summary.padEnd(widest)} | ${node.rawLine ?? ''}`);
    for (const text of [...node.remarks.map(({ message }) => message), ...(marksOf(node) ? [marksOf(node)] : [])]) lines.push(`          ! ${text}`);
    blocks.set(head, lines);
  }
  return [...blocks].map(([head, lines]): Part => ({
    stack: [{ ...written(head, { bold: true, fontSize: 8 }), margin: [0, 3, 0, 1] }, { ...written(lines.join('\n'), { face: 'Raw', fontSize: 6.8 }), preserveLeadingSpaces: true }],
    unbreakable: lines.length <= 12,
  }));
}

/** How many of each exception, and each of them by name. */
export function exceptionParts(material: PaperMaterial): Part[] {
  const { nodes } = material.thread;
  const counts = Object.entries(exceptionWords).flatMap(([name, words]) => {
    const found = nodes.filter(({ exceptions }) => (exceptions as readonly string[]).includes(name));
    return found.length > 0 ? [{ words, found }] : [];
  });
  const amended = [...material.amendments.values()];
  const parts: Part[] = [heading('What to stop at')];
  if (counts.length === 0) parts.push(paragraph('Nothing was amended, overridden, entered late or typed by hand, and every instrument was in check at its moment.'));
  else {
    parts.push(table([
      { head: 'Exception', cell: ({ words }) => words.title, width: 118 },
      { head: 'Records', cell: ({ found }) => `${found.length} of ${nodes.length}`, width: 62, align: 'right' },
      { head: 'What it means', cell: ({ words }) => words.says },
    ], counts, { note: 'Late: observed an hour or more before it was recorded.' }));
  }
  const labels = new Map(nodes.map(({ id, label }) => [id, label]));
  for (const amendment of amended) {
    parts.push(notice(`Amended: ${labels.get(amendment.targetId) ?? amendment.targetId}`,
      `${kindText(amendment.reasonCode.toLowerCase())}: “${amendment.reason}”, ${who(material, amendment.recordedBy)}, ${momentText(amendment.recordedAt)}. ${amendment.replacementId ? 'Another record took its place.' : 'Retracted, without a replacement.'}`, 'ask'));
  }
  for (const node of nodes.filter(({ exceptions }) => exceptions.includes('ANSWERED') || exceptions.includes('SAME_HAND'))) {
    parts.push(notice(`${node.exceptions.includes('SAME_HAND') ? 'Signed by the same hand' : 'Answered or overridden'}: ${node.label}`, node.remarks.map(({ message }) => message).join(' '), 'ask'));
  }
  return parts;
}
