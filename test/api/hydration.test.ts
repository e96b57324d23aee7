import { furnish, record, weighing, WEIGH, type Bench } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { approvedProtocol, protocolInput } from '../support/protocol.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;
const [hydrationId, discId] = [newId(), newId()];
const startedMs = Date.now() - 200 * 60_000;
const after = (minutes: number): string => new Date(startedMs + minutes * 60_000).toISOString();

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Floating lab');
  bench = await furnish(lab.as('MANAGER'));
  await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id: discId, leafId: bench.leafId, label: 'W-1', diameterMm: '10' });
  const protocolId = await approvedProtocol(lab, 'On water', { hydrationLeastMin: 180, hydrationMostMin: 240, hydrationLeastC: 18, hydrationMostC: 22 });
  await record(lab.as('TECHNICIAN'), 'startHydration', 'StartHydrationInput', { id: hydrationId, label: 'H-1', discIds: [discId], startedAt: after(0), waterC: '20', protocolId });
});

afterAll(() => server.close());

type Due = { kind: string; what: string; dueAt: string; mine: boolean; roles: string[] };
const due = async (role: 'TECHNICIAN' | 'MANAGER' | 'RESEARCHER' | 'AUDITOR' = 'TECHNICIAN', mine = false): Promise<Due[]> =>
  (await lab.as(role).ask<any>('query ($mine: Boolean) { due(mine: $mine) { kind what dueAt mine roles } }', { mine })).due;
const end = async (input: object): Promise<any> => (await lab.as('TECHNICIAN').ask<any>(
  'mutation ($input: EndHydrationInput!) { endHydration(input: $input) { hydration { endsFrom endsBy end { blotted waterC overrideReason } } problem { code field message } } }', { input: { id: newId(), hydrationId, blotted: true, ...input } },
)).endHydration;

it('stands on Due until the discs are out, from the end of the protocol’s least time', async () => {
  const item = (await due()).find(({ kind }) => kind === 'HYDRATION_ENDS')!;
  expect(item).toMatchObject({ what: 'Take the discs of H-1 out of the water and blot them', mine: true });
  expect(Date.parse(item.dueAt)).toBe(Math.floor(Date.parse(after(180))));
});

it('asks for a reason where it is done otherwise than the protocol says, each point in words', async () => {
  const { problem } = await end({ takenOutAt: after(100), waterC: '25', blotted: false });
  expect(problem).toMatchObject({ code: 'STATE', field: 'overrideReason' });
  expect(problem.message).toBe('Taken out after 100 min; at least 180 are wanted: the turgid mass reads low. The water had 20 and 25 °C; 18 to 22 are wanted. Not blotted as wanted: 2 times 2 s on filter paper.');
});

it('is ended once; a turgid weighing long after the blotting asks by the protocol’s limit', async () => {
  expect(await end({ takenOutAt: after(190), waterC: '21' })).toMatchObject({ problem: null, hydration: { end: { blotted: true, waterC: '21', overrideReason: null } } });
  expect((await end({ takenOutAt: after(195) })).problem).toMatchObject({ code: 'STATE', field: 'hydrationId' });
  expect((await due()).some(({ kind }) => kind === 'HYDRATION_ENDS')).toBe(false);
  const turgid = { ...weighing(bench, discId, 'TURGID', 0, 70), observedAt: after(193) };
  const { flags } = (await record(lab.as('TECHNICIAN'), WEIGH[0], WEIGH[1], turgid, 'flags { code message }'));
  expect(flags).toContainEqual({ code: 'LATE_AFTER_BLOTTING', message: expect.stringContaining('180 s after blotting') });
});

describe('a turgid weighing', () => {
  const weighed = async (disc: string, minutes: number, massMg = 70, state = 'TURGID'): Promise<{ code: string; severity: string; message: string }[]> =>
    (await record(lab.as('TECHNICIAN'), WEIGH[0], WEIGH[1], { ...weighing(bench, disc, state, 0, massMg), observedAt: after(minutes) }, 'flags { code severity message }')).flags
      .filter(({ code }: any) => code === 'HYDRATION_OUT_OF_WINDOW');
  /** On water between two moments, under a protocol or none. */
  const floated = async (discIds: readonly string[], from: number, to: number, protocolId: string | null): Promise<void> => {
    const id = newId();
    await record(lab.as('TECHNICIAN'), 'startHydration', 'StartHydrationInput', { id, label: `H-${id.slice(-6)}`, discIds, startedAt: after(from), waterC: '20', protocolId });
    await record(lab.as('TECHNICIAN'), 'endHydration', 'EndHydrationInput', { id: newId(), hydrationId: id, blotted: true, takenOutAt: after(to), overrideReason: 'As planned.' });
  };
  const discsOf = async (most: number): Promise<string[]> => {
    const ids = Array.from({ length: most }, newId);
    for (const id of ids) await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id, leafId: bench.leafId, label: `W-${id.slice(-6)}`, diameterMm: '10' });
    return ids;
  };

  it('tells a time on water outside of the window of the protocol that the discs were laid under', async () => {
    const short = await approvedProtocol(lab, 'Short', { hydrationLeastMin: 60, hydrationMostMin: 90 });
    const [inside, tooLong, before] = await discsOf(3) as [string, string, string];
    // Weighed to see how far they are: their time is not over.
    expect(await weighed(before, 20)).toEqual([]);
    await floated([inside, before], 10, 85, short);
    await floated([tooLong], 0, 91, short);
    expect(await weighed(inside, 86)).toEqual([]);
    expect(await weighed(before, 86)).toEqual([]);
    expect(await weighed(tooLong, 92)).toEqual([{ code: 'HYDRATION_OUT_OF_WINDOW', severity: 'WARN', message: 'In water for 91 min; the protocol allows 60 to 90 min.' }]);
  });

  it('counts on where a disc was laid back, begins anew where it dried in between, and takes the run’s protocol or the house’s own where none was named', async () => {
    const [laidBack, dried, bound] = await discsOf(3) as [string, string, string];
    await floated([laidBack, dried, bound], 0, 100, null);
    const house = 'In water for 100 min; the protocol allows 180 to 240 min.';
    expect(await weighed(laidBack, 101)).toMatchObject([{ message: house }]);
    expect(await weighed(dried, 101)).toMatchObject([{ message: house }]);
    await weighed(dried, 103, 69, 'DRYING');
    await floated([laidBack, dried], 105, 195, null);
    expect(await weighed(laidBack, 196)).toEqual([]);
    expect(await weighed(dried, 196)).toMatchObject([{ message: 'In water for 90 min; the protocol allows 180 to 240 min.' }]);
    const asks = await approvedProtocol(lab, 'Asks', { hydrationLeastMin: 120, hydrationMostMin: 200, asks: ['HYDRATION_OUT_OF_WINDOW'] });
    const dryingRunId = newId();
    await record(lab.as('TECHNICIAN'), 'openDryingRun', 'OpenDryingRunInput', { id: dryingRunId, label: 'R-asks', rigId: bench.rigId, balanceId: bench.balanceId, discIds: [bound], openedAt: after(100), protocolId: asks });
    const input = { ...weighing(bench, bound, 'TURGID', 0, 70, { dryingRunId, overrideReason: 'Checked before.' }), observedAt: after(101) };
    const { recordWeighing } = await lab.as('TECHNICIAN').ask<any>('mutation ($input: RecordWeighingInput!) { recordWeighing(input: $input) { weighing { id } flags { code severity message } problem { field } } }', { input });
    expect(recordWeighing).toMatchObject({ weighing: null, problem: { field: 'flagAnswer' } });
    expect(recordWeighing.flags).toContainEqual({ code: 'HYDRATION_OUT_OF_WINDOW', severity: 'ASK', message: 'In water for 100 min; the protocol allows 120 to 200 min.' });
  });
});

it('protocols that wait for approval stand on Due of managers who did not write them, and calibrations of managers only', async () => {
  const id = newId();
  await record(lab.as('RESEARCHER'), 'recordProtocol', 'RecordProtocolInput', protocolInput(id, 'Waiting'));
  const waiting = (items: Due[]): Due[] => items.filter(({ what }) => what === 'Approve protocol Waiting version 1');
  expect(waiting(await due('MANAGER', true))).toMatchObject([{ kind: 'APPROVAL', mine: true, roles: ['MANAGER'] }]);
  expect(waiting(await due('RESEARCHER', true))).toEqual([]);
  await record(lab.as('MANAGER'), 'recordProtocol', 'RecordProtocolInput', protocolInput(newId(), 'Own'));
  expect((await due('MANAGER', true)).some(({ what }) => what.includes('protocol Own'))).toBe(false);
  await record(lab.as('MANAGER'), 'recordInstrumentCalibration', 'RecordInstrumentCalibrationInput', { id: newId(), instrumentId: bench.balanceId, calibratedAt: after(-10_000), dueAt: after(3_000), calibratedBy: 'A laboratory' });
  expect((await due('MANAGER', true)).some(({ what }) => what === 'Have Balance 1 calibrated')).toBe(true);
  expect((await due('TECHNICIAN', true)).some(({ what }) => what === 'Have Balance 1 calibrated')).toBe(false);
});

it('leaves nobody anything that they cannot act on', async () => {
  expect(await due('AUDITOR', true)).toEqual([]);
});
