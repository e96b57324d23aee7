import { at, courseOf, dryDiscs, furnish, record, weighing, type Bench, type RunMade } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;
let run: RunMade;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Bench lab');
  bench = await furnish(lab.as('MANAGER'));
  run = await dryDiscs(bench, lab.as('TECHNICIAN'), lab.as('MANAGER'), [bench.leafId, bench.leafId], [courseOf(), courseOf()]);
});

afterAll(() => server.close());

const RECORD = 'mutation ($input: RecordWeighingInput!) { recordWeighing(input: $input) { replayed weighing { id massMg flags { code } amendedBy { reason } } flags { code severity } problem { code field } } }';
const AMEND = `mutation ($input: RecordWeighingInput!, $amends: AmendsInput!) { amendWeighing(input: $input, amends: $amends) {
  replayed weighing { id } amendment { staleResults { kind label } } problem { code field message } } }`;

describe('a drying run', () => {
  it('gives the RWC of each disc, computed on the server from the raw masses', async () => {
    const { dryingRun } = await lab.as('RESEARCHER').ask<any>(
      `query ($id: UUID!) { dryingRun(id: $id) { state rwcSeries { codeVersion stale turgidMassMg dryMassMg points { rwc u uCommon } readings { rwc transmittance uTransmittance } turgidTransmittance flags { code } } } }`,
      { id: run.dryingRunId },
    );
    expect(dryingRun.state).toBe('RELEASED');
    const [series] = dryingRun.rwcSeries;
    expect(series).toMatchObject({ stale: false, turgidMassMg: 70, dryMassMg: 12, flags: [] });
    expect(series.points.map(({ rwc }: any) => Number(rwc.toFixed(3)))).toEqual([0.97, 0.92, 0.87, 0.82, 0.77, 0.72, 0.67, 0.62]);
    for (const point of series.points) expect(point.u).toBeGreaterThan(point.uCommon);
    expect(series.readings).toHaveLength(7);
    for (const reading of series.readings) {
      // The reference drifts by 0.2 % over the run, which the bracket takes out: the true curve is exp(ln 0.15 - (R - 1)).
      expect(Math.abs(reading.transmittance - 0.15 * Math.exp(1 - reading.rwc)) / reading.transmittance).toBeLessThan(0.005);
    }
  });

  it('takes nothing more once closed, but recognises a replay', async () => {
    const late = weighing(bench, run.discIds[0]!, 'DRYING', 90, 45, { dryingRunId: run.dryingRunId });
    const refused = await lab.as('TECHNICIAN').ask<any>(RECORD, { input: late });
    expect(refused.recordWeighing).toMatchObject({ weighing: null, problem: { code: 'STATE', field: 'dryingRunId' } });
    const first = weighing(bench, run.discIds[0]!, 'DRYING', 0, 12 + 0.97 * 58, { id: run.weighingIds[0]![0], dryingRunId: run.dryingRunId });
    const replayed = await lab.as('TECHNICIAN').ask<any>(RECORD, { input: first });
    expect(replayed.recordWeighing).toMatchObject({ replayed: true, problem: null });
  });

  it('leads from its RWC down to the lines of the balance, and from a line up', async () => {
    const { disc } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { disc(id: $id) { rwcSeries { id } } }', { id: run.discIds[0] });
    const { thread } = await lab.as('AUDITOR').ask<any>(
      `query ($id: UUID!) { thread(kind: "rwc_series", id: $id, direction: DOWN) { truncated root { label } nodes { kind label summary rawLine instrument instrumentStatusThen recordedBy { displayName } } edges { role } } }`,
      { id: disc.rwcSeries.id },
    );
    const masses = thread.nodes.filter(({ kind }: any) => kind === 'weighing');
    expect(masses).toHaveLength(11);
    expect(masses.map(({ rawLine }: any) => rawLine)).toContain('+ 68.26 mg S');
    expect(masses[0]).toMatchObject({ instrument: 'Balance 1', recordedBy: { displayName: 'technician of Bench lab' } });
    // Dry masses were taken 25 hours after the balance's last check, which was good for 24.
    expect(new Set(masses.map(({ instrumentStatusThen }: any) => instrumentStatusThen))).toEqual(new Set(['IN_CHECK', 'OVERDUE']));
    const up = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "weighing", id: $id, direction: UP) { nodes { kind } } }', { id: run.weighingIds[0]![0] });
    expect(up.thread.nodes.map(({ kind }: any) => kind)).toContain('rwc_series');
  });
});

describe('a weighing', () => {
  let discId: string;

  beforeAll(async () => {
    discId = newId();
    await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id: discId, leafId: bench.leafId, label: 'D-extra' });
    await record(lab.as('TECHNICIAN'), 'recordWeighing', 'RecordWeighingInput', weighing(bench, discId, 'TURGID', 0, 70));
    await record(lab.as('TECHNICIAN'), 'recordWeighing', 'RecordWeighingInput', weighing(bench, discId, 'DRYING', 5, 60));
  });

  it('that rises while drying asks before it is kept, and keeps the answer', async () => {
    const input = weighing(bench, discId, 'DRYING', 10, 63);
    const asked = await lab.as('TECHNICIAN').ask<any>(RECORD, { input });
    expect(asked.recordWeighing).toMatchObject({ weighing: null, problem: { code: 'INPUT', field: 'flagAnswer' } });
    expect(asked.recordWeighing.flags.map(({ code }: any) => code)).toContain('MASS_RISING');
    const kept = await lab.as('TECHNICIAN').ask<any>(RECORD, { input: { ...input, flagAnswer: 'A drop fell on it.' } });
    expect(kept.recordWeighing.weighing.flags.map(({ code }: any) => code)).toContain('MASS_RISING');
  });

  it.each([
    ['massText', { massText: 'sixty' }],
    ['massText', { massText: '-3' }],
    ['massUnit', { massUnit: 'nW' }],
    ['observedAt', { observedAt: 'yesterday' }],
    ['balanceId', { balanceId: null }],
    ['discId', { discId: newId() }],
  ])('with a wrong %s is refused by that name', async (field, wrong) => {
    const answer = await lab.as('TECHNICIAN').ask<any>(RECORD, { input: weighing(bench, discId, 'DRYING', 20, 50, wrong) });
    expect(answer.recordWeighing.problem.field).toBe(field);
  });

  it('is amended by another one: both stay, the RWC that rested on it is stale, once is enough', async () => {
    const targetId = run.weighingIds[1]![2]!;
    const amends = { id: newId(), targetId, reasonCode: 'MISREAD', reason: 'A 6 was read as an 8.' };
    const input = weighing(bench, run.discIds[1]!, 'DRYING', 20.5, 62.3, { dryingRunId: run.dryingRunId, entryMode: 'TYPED', rawLine: '62.30' });
    const { amendWeighing } = await lab.as('TECHNICIAN').ask<any>(AMEND, { input, amends });
    expect(amendWeighing.problem).toBeNull();
    expect(amendWeighing.amendment.staleResults).toEqual([{ kind: 'rwc_series', label: expect.stringContaining('RWC of D') }]);
    const { disc } = await lab.as('TECHNICIAN').ask<any>('query ($id: UUID!) { disc(id: $id) { weighings { id amendedBy { reason } } rwcSeries { stale } } }', { id: run.discIds[1] });
    expect(disc.rwcSeries.stale).toBe(true);
    expect(disc.weighings.find(({ id }: any) => id === targetId).amendedBy.reason).toBe('A 6 was read as an 8.');
    const again = await lab.as('TECHNICIAN').ask<any>(AMEND, { input, amends });
    expect(again.amendWeighing).toMatchObject({ replayed: true, problem: null });
    const second = await lab.as('TECHNICIAN').ask<any>(AMEND, { input: { ...input, id: newId() }, amends: { ...amends, id: newId() } });
    expect(second.amendWeighing.problem.code).toBe('ALREADY_AMENDED');
    const { computeRwcSeries } = await lab.as('RESEARCHER').ask<any>(
      'mutation ($input: ComputeRwcSeriesInput!) { computeRwcSeries(input: $input) { rwcSeries { stale points { massMg } } problem { message } } }',
      { input: { id: newId(), discId: run.discIds[1] } },
    );
    expect(computeRwcSeries.rwcSeries).toMatchObject({ stale: false });
    const masses = computeRwcSeries.rwcSeries.points.map(({ massMg }: any) => massMg);
    expect(masses).toHaveLength(8);
    expect(masses).toContain(62.3);
    // What stood there before, 12 mg dry and RWC 0.87 of 58 mg water, is no longer used.
    expect(masses).not.toContain(62.46);
  });

  it('says what it would mean before it is recorded', async () => {
    const input = { discId: run.discIds[0], state: 'DRYING', observedAt: at(95), massText: '41', massUnit: 'mg', balanceId: bench.balanceId };
    const { weighWouldBe } = await lab.as('TECHNICIAN').ask<any>('query ($input: WeighWouldBeInput!) { weighWouldBe(input: $input) { rwc uRwc provisional problem { code } } }', { input });
    expect(weighWouldBe).toMatchObject({ rwc: 0.5, provisional: false, problem: null });
    expect(weighWouldBe.uRwc).toBeGreaterThan(0.004);
  });
});
