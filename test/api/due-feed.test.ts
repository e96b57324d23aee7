import { courseOf, dryDiscs, furnish, record, weighing, type Bench } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { sign } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab, of; calendars');
  bench = await furnish(lab.as('MANAGER'));
});

afterAll(() => server.close());

const inMinutes = (minutes: number): string => new Date(Date.now() + minutes * 60_000).toISOString();
const due = async (client: Client, mine = false): Promise<any[]> => (await client.ask<any>('query ($mine: Boolean) { due(mine: $mine) { kind what dueAt mine subject { id } } }', { mine })).due;
const disc = async (label: string): Promise<string> => {
  const id = newId();
  await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id, leafId: bench.leafId, label });
  return id;
};

describe('due', () => {
  it('tells when discs have cooled, until they are weighed', async () => {
    const technician = lab.as('TECHNICIAN');
    const [discId, cycle] = [await disc('C-1'), newId()];
    await record(technician, 'startOvenCycle', 'StartOvenCycleInput', { id: cycle, label: 'O-cool', ovenId: bench.ovenId, setTemperatureC: '70', discIds: [discId], startedAt: inMinutes(-1500) });
    const ofCycle = async (): Promise<any> => (await due(technician)).find(({ subject }) => subject.id === cycle);
    expect(await ofCycle()).toMatchObject({ kind: 'OVEN_CHECK' });
    const takenOutAt = inMinutes(-10);
    await record(technician, 'recordOvenCooling', 'RecordOvenCoolingInput', { id: newId(), ovenCycleId: cycle, takenOutAt, coolingMin: 30 });
    const cooled = await ofCycle();
    expect(cooled).toMatchObject({ kind: 'DISCS_COOLED', what: 'Weigh the discs of oven cycle O-cool: they have cooled' });
    expect(Date.parse(cooled.dueAt) - Date.parse(takenOutAt)).toBe(30 * 60_000);
    await record(technician, 'recordWeighing', 'RecordWeighingInput', weighing(bench, discId, 'DRY', 0, 12, { ovenCycleId: cycle, observedAt: inMinutes(25) }));
    expect(await ofCycle()).toMatchObject({ kind: 'OVEN_CHECK' });
    // Nothing is left to weigh once it is dry.
    await record(technician, 'recordWeighing', 'RecordWeighingInput', weighing(bench, discId, 'DRY', 0, 12, { ovenCycleId: cycle, observedAt: inMinutes(95) }));
    const dry = await ofCycle();
    expect(dry).toMatchObject({ kind: 'OVEN_UNLOAD', what: 'Unload oven cycle O-cool: every disc is dry, or gone' });
    expect(Math.round((Date.parse(dry.dueAt) - Date.parse(takenOutAt)) / 60_000)).toBe(105);
  });

  it('asks for the reference when a bracket has grown long', async () => {
    const technician = lab.as('TECHNICIAN');
    const [discId, runId] = [await disc('B-1'), newId()];
    await record(technician, 'openDryingRun', 'OpenDryingRunInput', { id: runId, label: 'R-bracket', rigId: bench.rigId, balanceId: bench.balanceId, discIds: [discId], openedAt: inMinutes(-60) });
    const read = (lightPath: string, minutes: number): Promise<any> => record(technician, 'recordMeterReading', 'RecordMeterReadingInput', {
      id: newId(), lightPath, observedAt: inMinutes(minutes), powerText: '500.0', powerUnit: 'nW', discId: lightPath === 'READING' ? discId : null, dryingRunId: runId, entryMode: 'LINE', rawLine: '500.0 nW',
    });
    await read('REFERENCE', -55);
    for (let i = 0; i < 7; i += 1) await read('READING', -50 + i * 5);
    const asked = async (): Promise<boolean> => (await due(technician)).some(({ kind, subject }) => kind === 'BRACKET' && subject.id === runId);
    expect(await asked()).toBe(false);
    await read('READING', -14);
    expect(await asked()).toBe(true);
    await read('REFERENCE', -12);
    expect(await asked()).toBe(false);
  });

  it('holds nothing against a person who cannot act on it: by role, and not on one’s own work', async () => {
    const [researcher, engineer, manager] = [lab.as('RESEARCHER'), lab.as('FIELD_ENGINEER'), lab.as('MANAGER')];
    const leafIds = [bench.leafId];
    const { leaf } = await manager.ask<any>('query ($id: UUID!) { leaf(id: $id) { plant { id } } }', { id: bench.leafId });
    for (let i = 2; i <= 5; i += 1) {
      leafIds.push(newId());
      await record(manager, 'recordLeaf', 'RecordLeafInput', { id: leafIds.at(-1), plantId: leaf.plant.id, label: `F1-L${i}` });
    }
    const run = await dryDiscs(bench, lab.as('TECHNICIAN'), manager, leafIds, leafIds.map((_, i) => courseOf(Math.log(0.15) + 0.03 * i)));
    const [calibrationId, versionId] = [newId(), newId()];
    await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig', cropId: bench.cropId });
    await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [run.dryingRunId] });
    const has = async (client: Client, kind: string): Promise<boolean> => (await due(client, true)).some((item) => item.kind === kind && item.subject.id === versionId);
    expect([await has(researcher, 'REVIEW'), await has(engineer, 'REVIEW'), await has(lab.as('TECHNICIAN'), 'REVIEW')]).toEqual([false, true, false]);
    await sign(engineer, 'calibration_version', versionId, 'REVIEWED');
    expect([await has(engineer, 'APPROVAL'), await has(manager, 'APPROVAL'), await has(researcher, 'APPROVAL')]).toEqual([false, true, false]);
    expect((await due(manager)).every(({ mine }) => typeof mine === 'boolean')).toBe(true);
    expect(await due(lab.as('AUDITOR'), true)).toEqual([]);
  });
});

describe('the calendar address', () => {
  const renew = async (client: Client): Promise<string> => (await client.ask<any>('mutation { renewCalendarFeed { path madeAt } }')).renewCalendarFeed.path;
  const fetched = (path: string): Promise<Response> => server.stranger().request(path);

  it('gives without sign-in what its person may act on, and nothing else', async () => {
    const path = await renew(lab.as('TECHNICIAN'));
    const answer = await fetched(path);
    expect(answer.headers.get('content-type')).toBe('text/calendar; charset=utf-8');
    const text = (await answer.text()).replace(/\r\n /g, '');
    expect(text).toContain('NAME:Due\\, Lab\\, of\\; calendars');
    const summaries = [...text.matchAll(/^SUMMARY:(.*)\r$/gm)].map(([, summary]) => summary);
    expect(summaries).toContain('Unload oven cycle O-cool: every disc is dry\\, or gone');
    const mine = (await lab.as('TECHNICIAN').ask<any>('query ($until: Moment!) { due(mine: true, until: $until) { what } }', { until: inMinutes(31 * 1440) })).due;
    expect(summaries).toHaveLength(mine.length);
    expect(summaries.some((summary) => summary!.startsWith('Approve'))).toBe(false);
  });

  it('ends when it is renewed or ended', async () => {
    const manager = lab.as('MANAGER');
    const first = await renew(manager);
    const second = await renew(manager);
    expect(second).not.toBe(first);
    expect([(await fetched(first)).status, (await fetched(second)).status]).toEqual([404, 200]);
    expect((await manager.ask<any>('{ calendarFeedMadeAt }')).calendarFeedMadeAt).not.toBeNull();
    await manager.ask('mutation { endCalendarFeed { path } }');
    expect([(await fetched(second)).status, (await fetched('/calendar/nonsense.ics')).status]).toEqual([404, 404]);
    expect((await manager.ask<any>('{ calendarFeedMadeAt }')).calendarFeedMadeAt).toBeNull();
  });
});
