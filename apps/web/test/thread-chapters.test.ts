import { chaptersOf, keeping } from '../src/features/thread/parts/chapters.js';
import type { Chapter } from '../src/features/thread/parts/chapters.js';
import { exceptionsOf, isException } from '../src/features/thread/parts/exceptions.js';
import type { Node, Thread } from '../src/features/thread/parts/exceptions.js';

const node = (kind: string, id: string, more: Partial<Node> = {}): Node => ({
  kind, id, label: `${kind} ${id}`, depth: 0, summary: '', rawLine: null, observedAt: null, recordedAt: '2026-06-03T09:00:00Z', throughToken: null, recordedBy: { id: 'p', displayName: 'P' },
  instrument: null, instrumentStatusThen: null, amendedBy: null, stale: false, contentHash: 'ab', remarks: [], exceptions: [], ...more,
});
const weighing = (id: string, disc: string, minute: number, more: Partial<Node> = {}): Node =>
  node('weighing', id, { label: `weighing of ${disc}`, observedAt: `2026-06-03T09:${String(minute).padStart(2, '0')}:00Z`, instrument: 'Balance 1', instrumentStatusThen: 'IN_CHECK', ...more });

/** Two leaves of one disc each, three weighings a disc, all the way to a decision. */
const discs = ['D1', 'D2'];
const weighings = discs.flatMap((disc) => [1, 2, 3].map((minute) => weighing(`${disc}-w${minute}`, disc, minute)));
const nodes: readonly Node[] = [
  node('decision', 'de'), node('trip', 'tr'), node('installation', 'in'), node('threshold_certificate', 'ce'), node('calibration_version', 'cv'),
  ...discs.flatMap((disc) => [node('rwc_series', `${disc}-r`), node('disc', disc, { label: disc }), node('leaf', `${disc}-l`, { label: `L${disc}` })]),
  ...weighings, node('meter_reading', 'dark', { label: 'dark' }), node('invented_kind', 'odd'),
];
const edge = (fromId: string, toId: string, role = 'of') => ({ fromId, toId, role });
const edges = [
  edge('de', 'tr'), edge('tr', 'in'), edge('in', 'ce'), edge('ce', 'cv'),
  ...discs.flatMap((disc) => [
    edge('cv', `${disc}-r`), edge(`${disc}-r`, disc), edge(disc, `${disc}-l`), edge(`${disc}-r`, 'dark', 'dark'),
    ...weighings.filter(({ label }) => label === `weighing of ${disc}`).flatMap(({ id }) => [edge(`${disc}-r`, id), edge(id, disc)]),
  ]),
];
const thread: Thread = { root: nodes[0]!, nodes: [...nodes], edges, truncated: false };

const told = (chapters: readonly Chapter[]): readonly Node[] => chapters.flatMap(({ groups }) => groups.flatMap(({ entries }) => entries.flatMap((entry) => (entry.sort === 'step' ? [entry.node] : entry.nodes))));
const ids = (chapters: readonly Chapter[]): readonly string[] => told(chapters).map(({ id }) => id).sort();

describe('a thread told as a sentence', () => {
  const down = chaptersOf(thread, 'down');

  it('tells every record exactly once, whatever its kind', () => {
    expect(ids(down)).toEqual(nodes.map(({ id }) => id).sort());
    expect(ids(chaptersOf({ ...thread, root: weighings[0]! }, 'up'))).toEqual(nodes.map(({ id }) => id).sort());
  });

  it('goes from the decision to the masses, and back up', () => {
    expect(down.map(({ key }) => key).slice(0, 6)).toEqual(['root', 'trip', 'installation', 'threshold_certificate', 'calibration_version', 'rwc_series']);
    expect(down[0]!.title).toBe('It was decided');
    const up = chaptersOf({ ...thread, root: weighings[0]! }, 'up').map(({ key }) => key);
    expect(up.indexOf('calibration_version')).toBeLessThan(up.indexOf('threshold_certificate'));
    expect(up.indexOf('installation')).toBeLessThan(up.indexOf('decision'));
  });

  it('puts the weighings of a disc under its leaf, folded, in order of time', () => {
    const { groups } = down.find(({ key }) => key === 'rwc_series')!;
    expect(groups.map(({ title }) => title)).toEqual(['Leaf LD1', 'Leaf LD2', 'Shared by all, or used by none']);
    const [series, fold] = groups[1]!.entries;
    expect(series).toMatchObject({ sort: 'step', node: { id: 'D2-r' } });
    expect(fold).toMatchObject({ sort: 'fold', title: '3 weighings of D2' });
    expect(fold?.sort === 'fold' && fold.nodes.map(({ id }) => id)).toEqual(['D2-w1', 'D2-w2', 'D2-w3']);
  });

  it('unfolds what it keeps, and drops chapters that keep nothing', () => {
    const kept = keeping(down, ({ id }) => id === 'D1-w2');
    expect(kept.map(({ key, count }) => [key, count])).toEqual([['rwc_series', 1]]);
    expect(kept[0]!.groups[0]).toMatchObject({ title: 'Leaf LD1', entries: [{ sort: 'step', node: { id: 'D1-w2' } }] });
  });

  it('arranges 2000 weighings of 100 discs into folds of each disc', () => {
    const many = Array.from({ length: 2000 }, (_, i) => weighing(`w${i}`, `D${i % 100}`, i % 60));
    const chapters = chaptersOf({ root: nodes[0]!, nodes: [nodes[0]!, ...many], edges: [], truncated: false }, 'down');
    expect(chapters[1]!.groups[0]!.entries).toHaveLength(100);
    expect(ids(chapters)).toHaveLength(2001);
  });
});

describe('exceptions of a thread', () => {
  it('names what an auditor stops at', () => {
    expect(isException(weighings[0]!)).toBe(false);
    expect(exceptionsOf(weighing('x', 'D1', 1, { exceptions: ['TYPED'] }))).toEqual(['typed by hand']);
    expect(exceptionsOf(weighing('x', 'D1', 1, { exceptions: ['INSTRUMENT', 'LATE'] }))).toEqual(['instrument out of check then']);
    expect(exceptionsOf(node('calibration_version', 'x', { exceptions: ['STALE'], remarks: [{ code: 'FEW_LEAVES', severity: 'WARN', message: 'Few.' }] }))).toEqual(['stale', 'remarks']);
    expect(exceptionsOf(weighing('x', 'D1', 1, { exceptions: ['ANSWERED'], remarks: [{ code: 'ANSWER', severity: 'WARN', message: 'Answer: so.' }] }))).toEqual(['answered or overridden']);
    expect(isException(weighing('x', 'D1', 1, { exceptions: ['LATE', 'SIMULATED'] }))).toBe(false);
  });

  it('does not blame an instrument for being registered before its first check', () => {
    expect(isException(node('instrument', 'i', { instrument: 'Balance 1', instrumentStatusThen: 'UNCHECKED' }))).toBe(false);
  });
});
