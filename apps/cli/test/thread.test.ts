import { courseOf, dryDiscs, furnish, type Bench, type RunMade } from '../../../test/support/chain.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../../../test/support/lab.js';
import { ensureDemo, demoSignIns } from '../src/demo/ensure-demo.js';
import { tellThread, type Thread, type ThreadNode } from '../src/thread/tell-thread.js';
import { runCommand, type Outcome } from './support/run-command.js';

const RAW = /^ *\| \+ \d+\.\d\d mg S$/;

describe('threadleaf thread', () => {
  let server: TestServer;
  let lab: TestLab;
  let bench: Bench;
  let run: RunMade;
  let seriesId: string;

  beforeAll(async () => {
    server = await startTestServer();
    lab = await server.openLab('Terminal lab');
    bench = await furnish(lab.as('MANAGER'));
    run = await dryDiscs(bench, lab.as('TECHNICIAN'), lab.as('MANAGER'), [bench.leafId], [courseOf()]);
    const { disc } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { disc(id: $id) { rwcSeries { id } } }', { id: run.discIds[0] });
    seriesId = disc.rwcSeries.id;
  });
  afterAll(() => server.close());

  const thread = (id: string, ...options: string[]): Promise<Outcome> =>
    runCommand(['thread', id, '--url', server.url, '--email', lab.as('AUDITOR').email, ...options], { THREADLEAF_PASSWORD: PASSWORD });

  it('leads from a result down to every raw line of the balance, with who, when and what with', async () => {
    const { printed, code } = await thread(seriesId);
    expect(code).toBe(0);
    const lines = printed.split('\n');
    expect(lines[0]).toMatch(/^RWC of D\d+-1: 8 masses, turgid 70\.000 mg, dry 12\.000 mg/);
    const raw = lines.filter((line) => RAW.test(line)).map((line) => line.trim().slice(2));
    const expected = [70, ...courseOf().rwc.map((rwc) => 12 + rwc * 58), 12.01, 12].map((massMg) => `+ ${massMg.toFixed(2)} mg S`);
    expect(raw.sort()).toEqual(expected.sort());
    const firstRaw = lines.findIndex((line) => RAW.test(line));
    expect(lines[firstRaw - 1]).toMatch(/^ {4}observed 2026-06-03T\S+, recorded \S+ by technician of Terminal lab, Balance 1 \((in check|overdue) then\)$/);
    expect(lines.at(-1)).toMatch(/^\d+ records, \d+ steps down\.$/);
  });

  it('leads up from a weighing to what it touches', async () => {
    const { printed, code } = await thread(run.weighingIds[0]![2]!, '--up');
    expect(code).toBe(0);
    expect(printed.split('\n')[0]).toMatch(/^weighing of D\d+-1: 62\.46 mg, drying$/);
    expect(printed).toMatch(/^ {2}RWC of D\d+-1/m);
  });

  it('shows an amendment with its reason, and what went stale by it', async () => {
    const target = run.weighingIds[0]![3]!;
    await lab.as('TECHNICIAN').ask('mutation ($input: RetractInput!) { retract(input: $input) { problem { message } } }', {
      input: { id: newId(), targetKind: 'weighing', targetId: target, reasonCode: 'WRONG_DISC', reason: 'The neighbour was on the pan.' },
    });
    const { printed } = await thread(seriesId, '--all');
    expect(printed).toMatch(/^ {4}AMENDED \S+ by technician of Terminal lab, wrong disc: The neighbour was on the pan\.$/m);
    expect(printed).toMatch(/^ {2}STALE: /m);
  });

  it('hands out the same as JSON', async () => {
    const told = JSON.parse((await thread(seriesId, '--kind', 'rwc_series', '--json')).printed) as Thread;
    expect(told.root.id).toBe(seriesId);
    expect(told.nodes.every(({ contentHash }) => /^[0-9a-f]{64}$/.test(contentHash))).toBe(true);
  });

  it('says in one line what stands in the way', async () => {
    const nowhere = await thread(newId());
    expect(nowhere).toMatchObject({ code: 1, complained: expect.stringMatching(/^threadleaf: No record of this lab has the id /) });
    const other = await server.openLab('Other terminal lab');
    const foreign = await runCommand(['thread', seriesId, '--url', server.url, '--email', other.as('AUDITOR').email, '--password', PASSWORD]);
    expect(foreign).toMatchObject({ code: 1, complained: expect.stringContaining('No record of this lab') });
    const wrong = await runCommand(['thread', seriesId, '--url', server.url, '--email', lab.as('AUDITOR').email, '--password', 'not the password']);
    expect(wrong).toMatchObject({ code: 1, complained: expect.stringMatching(/^threadleaf: E-mail and password do not match/) });
    const away = await runCommand(['thread', seriesId, '--url', 'http://127.0.0.1:9', '--email', 'a@b', '--password', 'c']);
    expect(away.complained).toMatch(/^threadleaf: No Threadleaf server answers at http:\/\/127\.0\.0\.1:9\./);
    const unnamed = await runCommand(['thread', seriesId, '--url', server.url]);
    expect(unnamed.complained).toMatch(/^threadleaf: E-mail is missing, and there is no terminal to ask on\./);
  });
});

describe('the demo decision', () => {
  let server: TestServer;
  beforeAll(async () => {
    server = await startTestServer();
    await ensureDemo(server.served, () => undefined);
  }, 180_000);
  afterAll(() => server.close());

  it('leads down to every raw line of its weighings', async () => {
    const { email, password } = demoSignIns().find(({ role }) => role === 'auditor')!;
    const options = ['--url', server.url, '--email', email];
    const env = { THREADLEAF_PASSWORD: password };
    const { signIn } = await import('../src/client.js');
    const client = await signIn(server.url, email, password);
    const { ledger } = await client.ask<any>('{ ledger(first: 1, subjectKind: "decision") { nodes { subjectId } } }');
    const id = ledger.nodes[0].subjectId as string;
    const told = JSON.parse((await runCommand(['thread', id, ...options, '--json'], env)).printed) as Thread;
    const whole = await runCommand(['thread', id, ...options, '--all'], env);
    const printed = whole.printed.split('\n').map((line) => line.trim());
    const weighings = told.nodes.filter(({ kind }) => kind === 'weighing');
    expect(weighings.length).toBeGreaterThan(50);
    for (const { rawLine } of weighings) expect(printed).toContain(`| ${rawLine}`);
    expect(printed[0]).toMatch(/^decision for zone /);
    // Every record once: as many heads as records.
    expect(printed.filter((line) => /^(observed \S+, )?recorded \S+ by /.test(line))).toHaveLength(told.nodes.length);
    const folded = await runCommand(['thread', id, ...options], env);
    expect(folded.printed.split('\n').length).toBeLessThan(printed.length / 2);
    expect(folded.printed).toMatch(/\d+ records of weighing, \S+ to \S+ by .* \(--all lists them\)/);
  });
});

describe('telling a thread', () => {
  const node = (id: string, depth: number, more: Partial<ThreadNode> = {}): ThreadNode => ({
    kind: 'weighing', id, label: `weighing ${id}`, depth, summary: '60.00 mg', rawLine: `line ${id}`, observedAt: '2026-06-03T09:00:00.000Z', recordedAt: '2026-06-03T09:00:01.000Z',
    recordedBy: { displayName: 'A' }, instrument: 'Balance 1', instrumentStatusThen: 'IN_CHECK', amendedBy: null, stale: false, contentHash: '', remarks: [], ...more,
  });
  const root = node('root', 0, { kind: 'rwc_series', label: 'series' });
  const of = (leaves: readonly ThreadNode[]): Thread => ({
    root, nodes: [root, ...leaves], truncated: false, edges: leaves.map(({ id }) => ({ fromId: 'root', toId: id, role: 'used' })),
  });
  const alike = (count: number): ThreadNode[] => Array.from({ length: count }, (_, i) => node(String(i).padStart(2, '0'), 1));

  it('folds more than twelve alike, never those that want a look, and nothing with --all', () => {
    const rawLines = (leaves: readonly ThreadNode[], all = false): number => tellThread(of(leaves), { direction: 'DOWN', all }).filter((line) => line.startsWith('    | ')).length;
    expect(rawLines(alike(12))).toBe(12);
    expect(rawLines(alike(13))).toBe(0);
    expect(rawLines(alike(13), true)).toBe(13);
    const odd = [
      node('a', 1, { stale: true }), node('b', 1, { remarks: [{ code: 'X', severity: 'WARN', message: 'm' }] }), node('c', 1, { instrumentStatusThen: 'OVERDUE' }),
      node('d', 1, { amendedBy: { reasonCode: 'MISREAD', reason: 'r', recordedAt: 't', recordedBy: { displayName: 'A' } } }),
    ];
    expect(rawLines([...alike(13), ...odd])).toBe(4);
  });

  it('keeps what lies below folded records', () => {
    const leaves = alike(13);
    const thread = of(leaves);
    const disc = node('disc', 2, { kind: 'disc', label: 'D1', rawLine: null });
    const lines = tellThread({ ...thread, nodes: [...thread.nodes, disc], edges: [...thread.edges, { fromId: '03', toId: 'disc', role: 'of' }] }, { direction: 'DOWN', all: false });
    expect(lines).toContain('    D1: 60.00 mg');
  });
});
