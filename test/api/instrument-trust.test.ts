import { at, furnish, record, weighing, type Bench } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { approvedProtocol } from '../support/protocol.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Trusting lab');
  bench = await furnish(lab.as('MANAGER'));
});

afterAll(() => server.close());

async function openRun(outOfCheck: 'ASK' | 'REFUSE' | null): Promise<{ runId: string; discId: string }> {
  const [runId, discId] = [newId(), newId()];
  await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id: discId, leafId: bench.leafId, label: `T-${runId.slice(-6)}`, diameterMm: '10' });
  const protocolId = outOfCheck ? await approvedProtocol(lab, `Out of check ${outOfCheck} ${runId.slice(-6)}`, { outOfCheck }) : null;
  await record(lab.as('TECHNICIAN'), 'openDryingRun', 'OpenDryingRunInput', { id: runId, label: `RT-${runId.slice(-6)}`, rigId: bench.rigId, balanceId: bench.balanceId, discIds: [discId], openedAt: at(0), protocolId });
  return { runId, discId };
}

const weigh = async (input: object): Promise<any> => (await lab.as('TECHNICIAN').ask<any>(
  'mutation ($input: RecordWeighingInput!) { recordWeighing(input: $input) { weighing { id overrideReason balanceStatusThen } problem { code field message remedy } } }', { input },
)).recordWeighing;

const DAYS = 24 * 60;

describe('an instrument that is not in check', () => {
  it('is not taken where the protocol refuses it, by the server too', async () => {
    const { runId, discId } = await openRun('REFUSE');
    expect((await weigh(weighing(bench, discId, 'TURGID', 5, 70, { dryingRunId: runId }))).problem).toBeNull();
    const late = weighing(bench, discId, 'DRYING', 2 * DAYS, 60, { dryingRunId: runId, overrideReason: 'It weighs well.' });
    expect(await weigh(late)).toMatchObject({ weighing: null, problem: { code: 'INSTRUMENT', field: 'balanceId', message: 'Balance 1 is overdue for its check or calibration.' } });
  });

  it('asks for a reason where the protocol asks; the reason is kept with the weighing and stands in its Thread', async () => {
    const { runId, discId } = await openRun('ASK');
    const late = { ...weighing(bench, discId, 'TURGID', 2 * DAYS, 70, { dryingRunId: runId }) } as { id: string };
    expect(await weigh(late)).toMatchObject({ weighing: null, problem: { code: 'INSTRUMENT', field: 'overrideReason' } });
    const overrideReason = 'The check weight is at calibration; the balance was steady this morning.';
    expect(await weigh({ ...late, overrideReason })).toMatchObject({ problem: null, weighing: { overrideReason, balanceStatusThen: 'OVERDUE' } });
    const { thread } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "weighing", id: $id, direction: DOWN) { root { remarks { code message } } } }', { id: late.id });
    expect(thread.root.remarks).toContainEqual({ code: 'OVERRIDDEN', message: `Overridden: ${overrideReason}` });
  });

  it('asks for the meter of a reading as well, and nothing where no protocol is named', async () => {
    const { runId } = await openRun('ASK');
    const reading = { id: newId(), lightPath: 'DARK', observedAt: at(40 * DAYS), powerText: '1', powerUnit: 'nW', discId: null, dryingRunId: runId, entryMode: 'LINE', rawLine: '1 nW' };
    const read = async (input: object): Promise<any> => (await lab.as('TECHNICIAN').ask<any>('mutation ($input: RecordMeterReadingInput!) { recordMeterReading(input: $input) { meterReading { overrideReason } problem { field message } } }', { input })).recordMeterReading;
    expect((await read(reading)).problem).toEqual({ field: 'overrideReason', message: 'Meter 1 is overdue for its check or calibration.' });
    expect((await read({ ...reading, overrideReason: 'Sent for calibration tomorrow.' })).meterReading.overrideReason).toBe('Sent for calibration tomorrow.');
    const free = await openRun(null);
    expect((await weigh(weighing(bench, free.discId, 'TURGID', 2 * DAYS, 70, { dryingRunId: free.runId }))).problem).toBeNull();
  });

  it('lets an amendment through, for it is no new use', async () => {
    const { runId, discId } = await openRun('REFUSE');
    const first = weighing(bench, discId, 'TURGID', 5, 70, { dryingRunId: runId }) as { id: string };
    await weigh(first);
    const { amendWeighing } = await lab.as('TECHNICIAN').ask<any>('mutation ($input: RecordWeighingInput!, $amends: AmendsInput!) { amendWeighing(input: $input, amends: $amends) { problem { message } weighing { massText } } }', {
      input: weighing(bench, discId, 'TURGID', 2 * DAYS, 70.5, { dryingRunId: runId }), amends: { id: newId(), targetId: first.id, reasonCode: 'MISREAD', reason: 'Read anew.' },
    });
    expect(amendWeighing).toEqual({ problem: null, weighing: { massText: '70.50' } });
  });
});

describe('a calibration', () => {
  it('keeps who made it, its figures and its file; once it is due the instrument is overdue whatever its checks say, also for the ledger', async () => {
    const manager = lab.as('MANAGER');
    const id = newId();
    await record(manager, 'registerInstrument', 'RegisterInstrumentInput', { id, kind: 'BALANCE', label: 'Balance 9', resolution: '0.01', repeatability: '0.02', linearity: '0.03', driftPerYear: '0.1', unit: 'mg', checkEveryHours: 100_000 });
    await record(manager, 'recordInstrumentCheck', 'RecordInstrumentCheckInput', { id: newId(), instrumentId: id, observedAt: at(-60), nominal: '100', shown: '100.01', tolerance: '0.05' });
    const calibration = { id: newId(), instrumentId: id, calibratedAt: at(-30), dueAt: at(10 * DAYS), calibratedBy: 'A calibration laboratory', certificateNumber: 'C-1', largestError: '0.02', expandedUncertainty: '0.05' };
    await record(manager, 'recordInstrumentCalibration', 'RecordInstrumentCalibrationInput', calibration);
    const { instrument } = await lab.as('AUDITOR').ask<any>(
      `query ($id: UUID!) { instrument(id: $id) { linearity driftPerYear before: checkStatus(at: "${at(9 * DAYS)}") after: checkStatus(at: "${at(11 * DAYS)}") calibrations { calibratedBy certificateNumber largestError expandedUncertainty certificateFile { id } } } }`, { id },
    );
    expect(instrument).toEqual({ linearity: '0.03', driftPerYear: '0.1', before: 'IN_CHECK', after: 'OVERDUE', calibrations: [{ calibratedBy: 'A calibration laboratory', certificateNumber: 'C-1', largestError: '0.02', expandedUncertainty: '0.05', certificateFile: null }] });
    const { discId } = await openRun(null);
    const exceptions = async (minutes: number): Promise<string[]> => {
      const input = { ...weighing(bench, discId, 'FRESH', minutes, 60), id: newId(), balanceId: id };
      expect((await weigh({ ...input, flagAnswer: 'As it is.' })).problem).toBeNull();
      return (await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "weighing", id: $id, direction: DOWN) { root { exceptions } } }', { id: input.id })).thread.root.exceptions;
    };
    expect(await exceptions(9 * DAYS)).not.toContain('INSTRUMENT');
    expect(await exceptions(11 * DAYS)).toContain('INSTRUMENT');
    await record(manager, 'recordInstrumentCalibration', 'RecordInstrumentCalibrationInput', { ...calibration, id: newId(), calibratedAt: at(12 * DAYS), dueAt: at(400 * DAYS) });
    const again = await lab.as('AUDITOR').ask<any>(`query ($id: UUID!) { instrument(id: $id) { between: checkStatus(at: "${at(11 * DAYS)}") after: checkStatus(at: "${at(13 * DAYS)}") } }`, { id });
    expect(again.instrument).toEqual({ between: 'OVERDUE', after: 'IN_CHECK' });
  });

  it('is refused with a due date before it, and from those who are no managers', async () => {
    const input = { id: newId(), instrumentId: bench.balanceId, calibratedAt: at(0), dueAt: at(-1), calibratedBy: 'Somebody' };
    await expect(record(lab.as('MANAGER'), 'recordInstrumentCalibration', 'RecordInstrumentCalibrationInput', input)).rejects.toThrow(/dueAt/);
    await expect(record(lab.as('TECHNICIAN'), 'recordInstrumentCalibration', 'RecordInstrumentCalibrationInput', { ...input, dueAt: at(1) })).rejects.toThrow();
  });
});
