import { furnish, record, weighing, at, type Bench } from '../support/chain.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { approvedProtocol, protocolInput } from '../support/protocol.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Protocol lab');
  bench = await furnish(lab.as('MANAGER'));
  // Good for a day, as the first: the protocols below ask about a balance out of check, and dry masses come on the second day.
  await record(lab.as('MANAGER'), 'recordInstrumentCheck', 'RecordInstrumentCheckInput', { id: newId(), instrumentId: bench.balanceId, observedAt: at(540), nominal: '100', shown: '100.00', tolerance: '0.05' });
});

afterAll(() => server.close());

const RECORD = `mutation ($input: RecordProtocolInput!) { recordProtocol(input: $input) { protocol { version state } replayed problem { code field message } } }`;
const SIGN = `mutation ($input: SignInput!) { sign(input: $input) { problem { code field message } } }`;
const OPEN = `mutation ($input: OpenDryingRunInput!) { openDryingRun(input: $input) { dryingRun { id } problem { code field message remedy } } }`;
const WEIGH = `mutation ($input: RecordWeighingInput!) { recordWeighing(input: $input) { weighing { id } flags { code severity message } problem { field } } }`;

const approve = async (id: string, role: 'MANAGER' | 'RESEARCHER' = 'MANAGER'): Promise<any> =>
  (await lab.as(role).ask<any>(SIGN, { input: { id: newId(), subjectKind: 'protocol', subjectId: id, meaning: 'APPROVED', password: PASSWORD } })).sign.problem;

let labels = 0;
async function openRun(protocolId: string | null, discs = 1): Promise<{ runId: string; discIds: string[] }> {
  const discIds = Array.from({ length: discs }, newId);
  for (const id of discIds) await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id, leafId: bench.leafId, label: `P-${(labels += 1)}`, diameterMm: '10' });
  const runId = newId();
  await record(lab.as('TECHNICIAN'), 'openDryingRun', 'OpenDryingRunInput', { id: runId, label: `RP-${labels}`, rigId: bench.rigId, balanceId: bench.balanceId, discIds, openedAt: at(0), protocolId });
  return { runId, discIds };
}

const weigh = (discId: string, state: string, minutes: number, massMg: number, more: object = {}): Promise<any> =>
  lab.as('TECHNICIAN').ask<any>(WEIGH, { input: weighing(bench, discId, state, minutes, massMg, more) }).then(({ recordWeighing }) => recordWeighing);

const approved = (name: string, parameters: object = {}): Promise<string> => approvedProtocol(lab, name, parameters);

describe('a protocol', () => {
  it('counts its versions, wants a reason for each change, and is superseded once the next one is approved', async () => {
    const [first, second] = [newId(), newId()];
    const made = await lab.as('RESEARCHER').ask<any>(RECORD, { input: protocolInput(first, 'Discs 10 mm') });
    expect(made.recordProtocol).toMatchObject({ protocol: { version: 1, state: 'DRAFT' }, problem: null });
    const silent = await lab.as('RESEARCHER').ask<any>(RECORD, { input: protocolInput(second, 'Discs 10 mm', { coolingMin: 45 }) });
    expect(silent.recordProtocol.problem).toMatchObject({ code: 'INPUT', field: 'changedBecause' });
    const next = { ...protocolInput(second, 'Discs 10 mm', { coolingMin: 45 }), changedBecause: 'Masses still rose after 30 min.' };
    expect((await lab.as('RESEARCHER').ask<any>(RECORD, { input: next })).recordProtocol.protocol).toMatchObject({ version: 2 });
    expect((await lab.as('RESEARCHER').ask<any>(RECORD, { input: next })).recordProtocol).toMatchObject({ replayed: true, problem: null });

    expect(await approve(first, 'RESEARCHER')).toMatchObject({ code: 'SEPARATION_OF_DUTIES' });
    expect(await approve(first)).toBeNull();
    expect(await approve(second)).toBeNull();
    const { protocols } = await lab.as('AUDITOR').ask<any>('{ protocols(name: "Discs 10 mm") { version state } }');
    expect(protocols).toEqual([{ version: 2, state: 'APPROVED' }, { version: 1, state: 'SUPERSEDED' }]);
  });

  it.each([
    ['discDiameterMm', 0.5], ['rwcAsk', 103], ['uBlotting', -0.01], ['hydrationMostMin', 10], ['constantMassIntervalMin', 0],
  ])('refuses %s of %s and names it', async (name, value) => {
    const answer = await lab.as('RESEARCHER').ask<any>(RECORD, { input: protocolInput(newId(), 'Slip', { [name]: value }) });
    expect(answer.recordProtocol.problem).toMatchObject({ code: 'INPUT', field: `parameters.${name}` });
  });

  it('is needed approved: a run is not opened under a draft', async () => {
    const id = newId();
    await record(lab.as('RESEARCHER'), 'recordProtocol', 'RecordProtocolInput', protocolInput(id, 'Draft only'));
    const { openDryingRun } = await lab.as('TECHNICIAN').ask<any>(OPEN, { input: { id: newId(), label: 'R-draft', rigId: bench.rigId, balanceId: bench.balanceId, discIds: [newId()], openedAt: at(0), protocolId: id } });
    expect(openDryingRun.problem.field).toBe('discIds');
    const discId = newId();
    await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id: discId, leafId: bench.leafId, label: 'P-draft' });
    const refused = await lab.as('TECHNICIAN').ask<any>(OPEN, { input: { id: newId(), label: 'R-draft', rigId: bench.rigId, balanceId: bench.balanceId, discIds: [discId], openedAt: at(0), protocolId: id } });
    expect(refused.openDryingRun.problem).toMatchObject({ code: 'STATE', field: 'protocolId', message: 'Protocol Draft only version 1 is not approved.' });
  });
});

describe('a run under a protocol', () => {
  it('asks by the protocol: what the house only remarks wants an answer, what it asks may pass', async () => {
    const id = await approved('Strict', { asks: ['MASS_REPEATED'], risingSteps: 0 });
    const { runId, discIds: [discId] } = await openRun(id);
    await weigh(discId!, 'TURGID', 0, 70, { dryingRunId: runId });
    await weigh(discId!, 'DRYING', 5, 60, { dryingRunId: runId });
    const again = await weigh(discId!, 'DRYING', 10, 60, { dryingRunId: runId });
    expect(again).toMatchObject({ weighing: null, problem: { field: 'flagAnswer' } });
    expect(again.flags).toContainEqual(expect.objectContaining({ code: 'MASS_REPEATED', severity: 'ASK' }));
    const risen = await weigh(discId!, 'DRYING', 15, 60.01, { dryingRunId: runId });
    expect(risen.weighing).not.toBeNull();
  });

  it('stops at the line of the disc before, at a value that had not settled, and at a far fall', async () => {
    const id = await approved('Watchful');
    const { runId, discIds: [a, b] } = await openRun(id, 2);
    const more = { dryingRunId: runId };
    for (const [discId, massMg] of [[a!, 70], [b!, 66]] as const) expect((await weigh(discId, 'TURGID', 0, massMg, more)).weighing).not.toBeNull();
    for (const [minutes, massMg] of [[5, 68], [10, 66.2]] as const) expect((await weigh(a!, 'DRYING', minutes, massMg, more)).weighing).not.toBeNull();
    const codes = async (...args: Parameters<typeof weigh>): Promise<string[]> => (await weigh(...args)).flags.map(({ code }: any) => code);
    expect(await codes(b!, 'DRYING', 11, 66.2, more)).toContain('LINE_REPEATED');
    expect(await codes(a!, 'DRYING', 15, 64.6, { ...more, stable: false })).toEqual(['READING_UNSTABLE']);
    expect(await codes(a!, 'DRYING', 15, 50, more)).toEqual(['MASS_FELL_FAR']);
    expect((await weigh(a!, 'DRYING', 15, 64.6, { ...more, stable: true, scannedText: 'P-1', clockOffsetMs: 12 })).weighing).not.toBeNull();
  });

  it('carries its handling uncertainties into RWC, and recompute gives the same', async () => {
    const us: number[] = [];
    for (const uBlotting of [0.01, 0.03]) {
      const { runId, discIds: [discId] } = await openRun(await approved(`Blotting ${uBlotting}`, { uBlotting }));
      await weigh(discId!, 'TURGID', 0, 70, { dryingRunId: runId });
      await weigh(discId!, 'DRYING', 5, 60, { dryingRunId: runId });
      await weigh(discId!, 'DRY', 1500, 12);
      const { rwcSeries } = await record(lab.as('RESEARCHER'), 'computeRwcSeries', 'ComputeRwcSeriesInput', { id: newId(), discId }, 'rwcSeries { id uTurgidMassMg points { rwc u } }');
      us.push(rwcSeries.uTurgidMassMg);
      expect(rwcSeries.points[0].rwc).toBeCloseTo(48 / 58, 12);
      const { recompute } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { recompute(kind: "rwc_series", id: $id) { same steps { differences { path } } } }', { id: rwcSeries.id });
      expect(recompute).toMatchObject({ same: true });
      const { thread } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "rwc_series", id: $id, direction: DOWN) { nodes { kind label } } }', { id: rwcSeries.id });
      expect(thread.nodes).toContainEqual({ kind: 'protocol', label: `protocol Blotting ${uBlotting} version 1` });
    }
    // 1 % and 3 % of 70 mg, beside the balance's own hundredths.
    expect(us[0]).toBeCloseTo(0.7, 2);
    expect(us[1]).toBeCloseTo(2.1, 2);
  });

  it('takes what two clocks disagree about off before masses and readings are paired', async () => {
    const { runId, discIds: [discId] } = await openRun(await approved('Two clocks'));
    const more = { dryingRunId: runId };
    await weigh(discId!, 'TURGID', 0, 70, more);
    for (const minutes of [10, 20]) await weigh(discId!, 'DRYING', minutes, 70 - minutes, more);
    // The meter's device is ten minutes behind: its 00:05 is 00:15 by the server, half way between the two masses.
    const meter = (lightPath: string, minutes: number, powerText: string, onDisc: string | null): Promise<any> => record(lab.as('TECHNICIAN'), 'recordMeterReading', 'RecordMeterReadingInput', {
      id: newId(), lightPath, observedAt: at(minutes), powerText, powerUnit: 'nW', discId: onDisc, dryingRunId: runId, entryMode: 'LINE', rawLine: powerText, clockOffsetMs: 600_000,
    });
    await meter('DARK', -9, '1.0', null);
    await meter('REFERENCE', -8, '1001.0', null);
    await meter('READING', 5, '201.0', discId!);
    await meter('REFERENCE', 15, '1001.0', null);
    await weigh(discId!, 'DRY', 1500, 10);
    const { rwcSeries } = await record(lab.as('RESEARCHER'), 'computeRwcSeries', 'ComputeRwcSeriesInput', { id: newId(), discId }, 'rwcSeries { readings { massMg transmittance } }');
    expect(rwcSeries.readings).toHaveLength(1);
    // Log-linear between 60 mg and 50 mg above the dry mass of 10 mg: 10 + sqrt(50 · 40).
    expect(rwcSeries.readings[0].massMg).toBeCloseTo(10 + Math.sqrt(2000), 6);
  });
});

describe('a pre-flight', () => {
  const STANDING = `query ($input: PreflightStandingInput!) { preflightStanding(input: $input) { point met told remedy skippable } }`;
  const PREFLIGHT = `mutation ($input: RecordPreflightInput!) { recordPreflight(input: $input) { preflight { balanceStatus dark { id } skipped { point reason } } replayed problem { code field message remedy } } }`;

  it('tells what is open, is refused until each point is met or skipped with a reason, and shows the reason in the Thread of the run', async () => {
    const { runId } = await openRun(await approved('Before the first reading'));
    const seen = { dryingRunId: runId, observedAt: at(0), lampOnSince: at(-5), clockOffsetMs: 800 };
    const { preflightStanding } = await lab.as('TECHNICIAN').ask<any>(STANDING, { input: seen });
    expect(preflightStanding.map(({ point, met }: any) => [point, met])).toEqual([['BALANCE', true], ['LAMP', false], ['DARK', false], ['REFERENCE', false], ['CLOCK', true]]);
    expect(preflightStanding[1]).toMatchObject({ told: 'The lamp has burnt for 5 min; it needs 20.', remedy: 'Wait 15 min more: a lamp that warms drifts.' });
    for (const [lightPath, powerText] of [['DARK', '1.0'], ['REFERENCE', '1001.0']]) {
      await record(lab.as('TECHNICIAN'), 'recordMeterReading', 'RecordMeterReadingInput', { id: newId(), lightPath, observedAt: at(-1), powerText, powerUnit: 'nW', discId: null, dryingRunId: runId, entryMode: 'TYPED', rawLine: powerText });
    }
    const input = { id: newId(), ...seen, clockRoundTripMs: 12, skipped: [] };
    const refused = await lab.as('TECHNICIAN').ask<any>(PREFLIGHT, { input });
    expect(refused.recordPreflight.problem).toMatchObject({ code: 'STATE', field: 'lamp' });
    const given = { ...input, skipped: [{ point: 'LAMP', reason: 'Warm since the run before.' }] };
    const kept = await lab.as('TECHNICIAN').ask<any>(PREFLIGHT, { input: given });
    expect(kept.recordPreflight).toMatchObject({ problem: null, preflight: { balanceStatus: 'IN_CHECK', skipped: [{ point: 'LAMP', reason: 'Warm since the run before.' }] } });
    expect(kept.recordPreflight.preflight.dark).not.toBeNull();
    const { thread } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "drying_run", id: $id, direction: DOWN) { root { remarks { code message } } } }', { id: runId });
    expect(thread.root.remarks).toEqual([{ code: 'SKIPPED_LAMP', message: 'Before the first reading lamp was skipped: Warm since the run before.' }]);
  });

  it('lets nobody skip a balance out of check where the protocol refuses it', async () => {
    const { runId } = await openRun(await approved('No balance out of check', { outOfCheck: 'REFUSE' }));
    const skipped = ['BALANCE', 'LAMP', 'DARK', 'REFERENCE', 'CLOCK'].map((point) => ({ point, reason: 'In a hurry.' }));
    const { recordPreflight } = await lab.as('TECHNICIAN').ask<any>(PREFLIGHT, { input: { id: newId(), dryingRunId: runId, observedAt: at(2000), skipped } });
    expect(recordPreflight.problem).toMatchObject({ code: 'INSTRUMENT', field: 'balance', message: 'Balance 1 is overdue for its check.' });
  });
});

it('tells the RWC of each disc while the run goes on: none before the crop is known, then provisional with its band', async () => {
  const { runId, discIds: [discId] } = await openRun(null);
  await weigh(discId!, 'TURGID', 0, 70, { dryingRunId: runId });
  await weigh(discId!, 'DRYING', 5, 60, { dryingRunId: runId });
  const now = async (): Promise<any> => (await lab.as('TECHNICIAN').ask<any>('query ($id: UUID!) { dryingRun(id: $id) { rwcNow { disc { id } massMg rwc uRwc provisional } } }', { id: runId })).dryingRun.rwcNow;
  // Three series of the crop stand by now: those that the tests above computed, T/D of 70/12, 70/12 and 70/10.
  const [live] = await now();
  expect(live).toMatchObject({ disc: { id: discId }, massMg: 60, provisional: true });
  expect(live.rwc).toBeCloseTo(48 / 58, 12);
  await weigh(discId!, 'DRY', 1500, 12.5);
  const [known] = await now();
  expect(known).toMatchObject({ provisional: false });
  expect(known.rwc).toBeCloseTo(47.5 / 57.5, 12);
});
