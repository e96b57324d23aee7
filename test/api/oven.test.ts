import { at, furnish, record, WEIGH, weighing, type Bench } from '../support/chain.js';
import { approvedProtocol } from '../support/protocol.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let technician: Client;
let bench: Bench;
let discIds: string[];

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab of ovens');
  technician = lab.as('TECHNICIAN');
  bench = await furnish(lab.as('MANAGER'));
  const { discs } = await record(technician, 'recordSamples', 'RecordSamplesInput', { id: newId(), leafIds: [bench.leafId], discsPerLeaf: 3, diameterMm: '10' }, 'discs { id }');
  discIds = discs.map(({ id }: any) => id);
});

afterAll(() => server.close());

const refused = async (mutation: string, type: string, input: object): Promise<any> =>
  (await technician.ask<any>(`mutation ($input: ${type}!) { ${mutation}(input: $input) { problem { code field message } } }`, { input }))[mutation].problem;
const start = (more: object = {}): object => ({
  id: newId(), label: `O-${newId().slice(-6)}`, ovenId: bench.ovenId, setTemperatureC: '70', discIds, startedAt: at(0), trayRows: 2, trayColumns: 3,
  trayMap: discIds.map((discId, i) => ({ discId, row: 1 + Math.floor(i / 2), column: 1 + (i % 2) })), ...more,
});
const cycleOf = async (id: string, fields: string): Promise<any> => (await technician.ask<any>(`query ($id: UUID!) { ovenCycle(id: $id) { ${fields} } }`, { id })).ovenCycle;

describe('an oven cycle', () => {
  it('knows which disc lies where, how warm it was, when it has cooled and by which limb each disc is dry', async () => {
    const input = start() as { id: string };
    await record(technician, 'startOvenCycle', 'StartOvenCycleInput', input);
    const of = { ovenCycleId: input.id };
    await record(technician, 'recordOvenTemperature', 'RecordOvenTemperatureInput', { id: newId(), ...of, observedAt: at(30), temperatureC: '68.5', note: 'lower shelf' });
    await record(technician, 'recordOvenCooling', 'RecordOvenCoolingInput', { id: newId(), ...of, takenOutAt: at(1440), coolingMin: 30, vessel: 'Desiccator 2' });
    const weigh = (disc: number, minutes: number, massMg: number): Promise<any> => record(technician, ...([WEIGH[0], WEIGH[1], weighing(bench, discIds[disc]!, 'DRY', minutes, massMg, of), WEIGH[2]] as [string, string, object, string]));
    await weigh(0, 1470, 12.03);
    await weigh(1, 1471, 12.5);
    const fields = 'trayRows trayColumns trayMap { row column disc { id } } temperatures { temperatureC note } coolings { cooledAt vessel } constantMassRule { key name intervalMin } nextCheckAt constantMass { disc { id } reached limb message nextCheckAt }';
    const early = await cycleOf(input.id, fields);
    expect(early).toMatchObject({
      trayRows: 2, trayColumns: 3, temperatures: [{ temperatureC: '68.5', note: 'lower shelf' }], coolings: [{ cooledAt: at(1470), vessel: 'Desiccator 2' }],
      constantMassRule: { key: 'disc', intervalMin: 60 }, nextCheckAt: at(1530),
    });
    expect(early.trayMap[2]).toEqual({ row: 2, column: 1, disc: { id: discIds[2] } });
    // House rule: 0.5 % of 12.03 mg is 0.060 mg, two steps of 0.01 mg are 0.02 mg: the share of the mass sets the tolerance.
    expect(early.constantMass[0]).toMatchObject({ reached: false, limb: 'RELATIVE', message: expect.stringContaining('weigh again after at least 60 min') });
    await weigh(0, 1535, 12.0);
    await weigh(1, 1536, 12.3);
    const late = await cycleOf(input.id, fields);
    expect(late.constantMass.map(({ reached }: any) => reached)).toEqual([true, false, false]);
    expect(late.constantMass[1].message).toContain('Still drying: lost 0.2 mg');
    const unload = { ...of, unloadedAt: at(1560), scannedDiscIds: [discIds[0], discIds[1]] };
    expect(await refused('unloadOvenCycle', 'UnloadOvenCycleInput', { id: newId(), ...unload })).toMatchObject({ code: 'STATE', field: 'scannedDiscIds', message: 'F1-L1-D3 was not scanned.' });
    await record(technician, 'recordSampleLoss', 'RecordSampleLossInput', { losses: [{ id: newId(), subjectKind: 'DISC', subjectId: discIds[2] }], outcome: 'DESTROYED', noticedAt: at(1550), reason: 'Fell through the grid.' });
    expect(await refused('unloadOvenCycle', 'UnloadOvenCycleInput', { id: newId(), ...unload })).toMatchObject({ field: 'reason', message: '1 of 3 discs have not reached constant mass.' });
    await weigh(1, 1600, 12.29);
    await record(technician, 'unloadOvenCycle', 'UnloadOvenCycleInput', { id: newId(), ...unload, unloadedAt: at(1610) });
    expect(await cycleOf(input.id, 'unloadedAt unloadReason nextCheckAt scannedDiscs { label }')).toEqual({ unloadedAt: at(1610), unloadReason: null, nextCheckAt: null, scannedDiscs: [{ label: 'F1-L1-D1' }, { label: 'F1-L1-D2' }] });
    expect(await refused('recordOvenTemperature', 'RecordOvenTemperatureInput', { id: newId(), ...of, observedAt: at(1620), temperatureC: '70' })).toMatchObject({ code: 'STATE' });
  });

  it('judges each disc by the protocol version its run is bound to, as the release does; the rule of the cycle holds for the others', async () => {
    const all = Array.from({ length: 4 }, newId);
    for (const id of all) await record(technician, 'recordDisc', 'RecordDiscInput', { id, leafId: bench.leafId, label: `B-${id.slice(-6)}`, diameterMm: '10' });
    const [byShare, bySteps, free, older] = all as [string, string, string, string];
    const underProtocol = async (name: string, discId: string, openedMin: number, parameters: object): Promise<string> => {
      const protocolId = await approvedProtocol(lab, name, parameters);
      await record(technician, 'openDryingRun', 'OpenDryingRunInput', { id: newId(), label: `R ${name}`, rigId: bench.rigId, balanceId: bench.balanceId, discIds: [discId], openedAt: at(openedMin), protocolId });
      return protocolId;
    };
    // 2 % of 12 mg is 0.24 mg; three steps of 0.01 mg are 0.03 mg.
    const wide = await underProtocol('Wide', byShare, 0, { constantMassFraction: 0.02, constantMassSteps: 0, constantMassIntervalMin: 45 });
    await underProtocol('Strict', bySteps, 0, { constantMassFraction: 0, constantMassSteps: 3, constantMassIntervalMin: 120 });
    await underProtocol('Before', older, 0, { constantMassFraction: 0.02, constantMassSteps: 0, constantMassIntervalMin: 45 });
    const after = await underProtocol('After', older, 10, { constantMassFraction: 0, constantMassSteps: 1, constantMassIntervalMin: 45 });
    const input = start({ discIds: all, trayMap: undefined, trayRows: undefined, trayColumns: undefined, constantMassRule: 'astmD4442' }) as { id: string };
    await record(technician, 'startOvenCycle', 'StartOvenCycleInput', input);
    const weigh = (discId: string, minutes: number, massMg: number): Promise<any> =>
      record(technician, WEIGH[0], WEIGH[1], weighing(bench, discId, 'DRY', minutes, massMg, { ovenCycleId: input.id, overrideReason: 'Checked the day before.' }), WEIGH[2]);
    for (const discId of all) await weigh(discId, 1440, 12.1);
    const fields = 'nextCheckAt constantMassRule { key } constantMass { reached limb toleranceMg nextCheckAt rule { key name intervalMin } protocol { id version } }';
    const once = await cycleOf(input.id, fields);
    expect(once.nextCheckAt).toBe(at(1485));
    expect(once.constantMass.map(({ nextCheckAt }: any) => nextCheckAt)).toEqual([at(1485), at(1560), at(1620), at(1485)]);
    const dueAt = async (): Promise<string> => (await technician.ask<any>('{ due { kind subject { id } dueAt } }')).due.find(({ kind, subject }: any) => kind === 'OVEN_CHECK' && subject.id === input.id).dueAt;
    expect(Date.parse(await dueAt())).toBe(Date.parse(at(1485)));
    for (const discId of all) await weigh(discId, 1500, 12.0);
    expect(await cycleOf(input.id, fields)).toMatchObject({
      constantMassRule: { key: 'astmD4442' },
      constantMass: [
        { reached: true, limb: 'RELATIVE', toleranceMg: 0.24, rule: { key: 'protocol', name: 'Wide, version 1', intervalMin: 45 }, protocol: { id: wide } },
        // An hour apart is too soon under this one, and 0.1 mg would be too much.
        { reached: false, limb: 'RESOLUTION', toleranceMg: 0.03, rule: { key: 'protocol', name: 'Strict, version 1', intervalMin: 120 } },
        { reached: false, rule: { key: 'astmD4442', name: 'ASTM D4442', intervalMin: 180 }, protocol: null },
        { reached: false, limb: 'RESOLUTION', toleranceMg: 0.01, protocol: { id: after } },
      ],
    });
    for (const discId of [bySteps, free, older]) await weigh(discId, 1620, 11.99);
    expect((await cycleOf(input.id, fields)).constantMass.map(({ reached }: any) => reached)).toEqual([true, true, false, true]);
    expect(await refused('unloadOvenCycle', 'UnloadOvenCycleInput', { id: newId(), ovenCycleId: input.id, unloadedAt: at(1625) })).toMatchObject({ field: 'reason', message: '1 of 4 discs have not reached constant mass.' });
  });

  it('says when a criterion cannot be tested with the balance', async () => {
    const input = start({ constantMassRule: 'usp' }) as { id: string };
    await record(technician, 'startOvenCycle', 'StartOvenCycleInput', input);
    await record(technician, WEIGH[0], WEIGH[1], weighing(bench, discIds[0]!, 'DRY', 1500, 12, { ovenCycleId: input.id }) , WEIGH[2]);
    const cycle = await cycleOf(input.id, 'constantMassRule { name source } constantMass { message nextCheckAt }');
    expect(cycle.constantMassRule.name).toBe('USP');
    // 0.05 % of 12 mg is 0.006 mg, below two steps of 0.01 mg.
    expect(cycle.constantMass[0].message).toContain('less than two steps of this balance');
    const { constantMassRules } = await technician.ask<any>('{ constantMassRules { key source } }');
    expect(constantMassRules[0].key).toBe('disc');
  });

  it.each([
    [{ trayRows: 1 }, 'trayMap'], [{ trayRows: null }, 'trayRows'], [{ constantMassRule: 'by eye' }, 'constantMassRule'], [{ setTemperatureC: '400' }, 'setTemperatureC'],
  ])('is refused with %j', async (more, field) => {
    expect(await refused('startOvenCycle', 'StartOvenCycleInput', start(more))).toMatchObject({ field });
    const twice = discIds.map((discId) => ({ discId, row: 1, column: 1 }));
    expect(await refused('startOvenCycle', 'StartOvenCycleInput', start({ trayMap: twice }))).toMatchObject({ field: 'trayMap', message: expect.stringContaining('two discs') });
  });
});
