import { at, furnish, record, weighing, type Bench } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Due lab');
  bench = await furnish(lab.as('MANAGER'));
});

afterAll(() => server.close());

const inMinutes = (minutes: number): string => new Date(Date.now() + minutes * 60_000).toISOString();

const due = async (): Promise<any[]> => (await lab.as('MANAGER').ask<any>('{ due { kind what dueAt subject { kind id label } roles } }')).due;

describe('due', () => {
  it('tells the next reading of an open run, by its rhythm, and the soonest first', async () => {
    const discId = newId();
    await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id: discId, leafId: bench.leafId, label: 'D-due' });
    const dryingRunId = newId();
    await record(lab.as('TECHNICIAN'), 'openDryingRun', 'OpenDryingRunInput', { id: dryingRunId, label: 'R-due', rigId: bench.rigId, balanceId: bench.balanceId, discIds: [discId], openedAt: inMinutes(-20), rhythmMin: 7 });
    const observedAt = inMinutes(-1);
    await record(lab.as('TECHNICIAN'), 'recordWeighing', 'RecordWeighingInput', weighing(bench, discId, 'DRYING', 0, 60, { dryingRunId, observedAt }));
    const items = await due();
    const next = items.find(({ kind }) => kind === 'NEXT_READING');
    expect(next).toMatchObject({ what: 'Next reading of run R-due', subject: { kind: 'drying_run', id: dryingRunId } });
    expect(Date.parse(next.dueAt) - Date.parse(observedAt)).toBe(7 * 60_000);
    expect(items.map(({ dueAt }) => dueAt)).toEqual([...items].map(({ dueAt }) => dueAt).sort());
    await record(lab.as('TECHNICIAN'), 'closeDryingRun', 'DryingRunStepInput', { id: newId(), dryingRunId });
    expect((await due()).some(({ kind }) => kind === 'NEXT_READING')).toBe(false);
  });

  it('tells an instrument whose check has run out, and is quiet once it is checked', async () => {
    // The balance was last checked at the start of the test's own day in June, good for 24 hours.
    const overdue = (await due()).find(({ subject }) => subject.id === bench.balanceId);
    expect(overdue).toMatchObject({ kind: 'INSTRUMENT_CHECK', what: 'Check Balance 1' });
    expect(Date.parse(overdue.dueAt)).toBe(Date.parse(at(-60)) + 24 * 3_600_000);
    await record(lab.as('TECHNICIAN'), 'recordInstrumentCheck', 'RecordInstrumentCheckInput', { id: newId(), instrumentId: bench.balanceId, observedAt: inMinutes(-1), nominal: '100', shown: '100.02', tolerance: '0.05' });
    const { instrument } = await lab.as('MANAGER').ask<any>('query ($id: UUID!) { instrument(id: $id) { checkStatus } }', { id: bench.balanceId });
    expect(instrument.checkStatus).toBe('IN_CHECK');
    const later = (await due()).find(({ subject }) => subject.id === bench.balanceId);
    expect(Date.parse(later.dueAt)).toBeGreaterThan(Date.now() + 23 * 3_600_000);
  });

  it('tells a failed check too: the balance stays unsafe until it passes', async () => {
    await record(lab.as('TECHNICIAN'), 'recordInstrumentCheck', 'RecordInstrumentCheckInput', { id: newId(), instrumentId: bench.balanceId, observedAt: inMinutes(0), nominal: '100', shown: '100.40', tolerance: '0.05' });
    const { instrument } = await lab.as('MANAGER').ask<any>('query ($id: UUID!) { instrument(id: $id) { checkStatus checks { passed } } }', { id: bench.balanceId });
    expect(instrument).toEqual({ checkStatus: 'FAILED', checks: [{ passed: false }, { passed: true }, { passed: true }] });
    const item = (await due()).find(({ subject }) => subject.id === bench.balanceId);
    expect(Date.parse(item.dueAt)).toBeLessThanOrEqual(Date.now());
  });
});
