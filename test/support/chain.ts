import { newId, type Client } from './lab.js';

const PROBLEM = 'problem { code field message remedy }';

/** Sends one recording mutation and fails the test with the problem's words when it is refused. */
export async function record(client: Client, mutation: string, inputType: string, input: object, fields = ''): Promise<any> {
  const answer = await client.ask<any>(`mutation ($input: ${inputType}!) { ${mutation}(input: $input) { replayed ${fields} ${PROBLEM} } }`, { input });
  const payload = answer[mutation];
  if (payload.problem) throw new Error(`${mutation}: ${payload.problem.code} ${payload.problem.field}: ${payload.problem.message} ${payload.problem.remedy}`);
  return payload;
}

export const START = Date.parse('2026-06-03T09:00:00Z');
export const at = (minutes: number): string => new Date(START + minutes * 60_000).toISOString();

export interface Bench {
  readonly cropId: string;
  readonly leafId: string;
  readonly balanceId: string;
  readonly meterId: string;
  readonly ovenId: string;
  readonly rigId: string;
}

/** Crop, plant, leaf and instruments, all checked an hour before START. */
export async function furnish(manager: Client, name = ''): Promise<Bench> {
  const [cropId, plantId, leafId, balanceId, meterId, ovenId, rigId] = Array.from({ length: 7 }, newId) as [string, string, string, string, string, string, string];
  await record(manager, 'recordCrop', 'RecordCropInput', { id: cropId, name: `Fig${name}`, scientificName: 'Ficus carica' });
  await record(manager, 'recordPlant', 'RecordPlantInput', { id: plantId, cropId, label: `F1${name}`, cultivar: 'Test' });
  await record(manager, 'recordLeaf', 'RecordLeafInput', { id: leafId, plantId, label: `F1-L1${name}` });
  const instruments = [
    { id: balanceId, kind: 'BALANCE', label: `Balance 1${name}`, resolution: '0.01', repeatability: '0.02', unit: 'mg', checkEveryHours: 24 },
    { id: meterId, kind: 'POWER_METER', label: `Meter 1${name}`, resolution: '0.1', repeatability: '0.5', unit: 'nW', checkEveryHours: 720 },
    { id: ovenId, kind: 'OVEN', label: `Oven 1${name}`, unit: 'Cel', checkEveryHours: 720 },
  ];
  for (const input of instruments) await record(manager, 'registerInstrument', 'RegisterInstrumentInput', input);
  await record(manager, 'recordInstrumentCheck', 'RecordInstrumentCheckInput', { id: newId(), instrumentId: balanceId, observedAt: at(-60), nominal: '100', shown: '100.01', tolerance: '0.05' });
  await record(manager, 'recordInstrumentCheck', 'RecordInstrumentCheckInput', { id: newId(), instrumentId: meterId, observedAt: at(-60), nominal: '500', shown: '500.2', tolerance: '2' });
  await record(manager, 'registerRig', 'RegisterRigInput', { id: rigId, label: `Rig A${name}`, version: 1, source: 'halogen lamp', bandCentreNm: '1470', bandWidthNm: '12', diffuser: 'opal glass', meterId });
  return { cropId, leafId, balanceId, meterId, ovenId, rigId };
}

export interface DiscCourse {
  readonly turgidMg: number;
  readonly dryMg: number;
  /** RWC at the weighings, one every ten minutes. */
  readonly rwc: readonly number[];
  /** Transmittance at an RWC. */
  readonly transmittance: (rwc: number) => number;
}

export const courseOf = (lnT0 = Math.log(0.15), slope = -1): DiscCourse => ({
  turgidMg: 70,
  dryMg: 12,
  rwc: [0.97, 0.92, 0.87, 0.82, 0.77, 0.72, 0.67, 0.62],
  transmittance: (rwc) => Math.exp(lnT0 + slope * (rwc - 1)),
});

export const weighing = (bench: Bench, discId: string, state: string, minutes: number, massMg: number, more: object = {}): object => ({
  id: newId(), discId, state, observedAt: at(minutes), massText: massMg.toFixed(2), massUnit: 'mg', balanceId: bench.balanceId,
  entryMode: 'LINE', rawLine: `+ ${massMg.toFixed(2)} mg S`, ...more,
});

export const WEIGH = ['recordWeighing', 'RecordWeighingInput', 'weighing { id } flags { code }'] as const;

export interface RunMade {
  readonly dryingRunId: string;
  readonly discIds: string[];
  /** By disc: ids of the drying weighings in order. */
  readonly weighingIds: string[][];
}

let runs = 0;

/** A whole drying run on real mutations: turgid, rhythm of readings and weighings, oven, close, release. */
export async function dryDiscs(bench: Bench, technician: Client, manager: Client, leafIds: readonly string[], courses: readonly DiscCourse[]): Promise<RunMade> {
  runs += 1;
  const discIds = leafIds.map(newId);
  for (const [i, id] of discIds.entries()) {
    await record(technician, 'recordDisc', 'RecordDiscInput', { id, leafId: leafIds[i], label: `D${runs}-${i + 1}`, diameterMm: '10' });
    await record(technician, ...split(weighing(bench, id, 'TURGID', -5, courses[i]!.turgidMg)));
  }
  const dryingRunId = newId();
  await record(technician, 'openDryingRun', 'OpenDryingRunInput', { id: dryingRunId, label: `R${runs}`, rigId: bench.rigId, balanceId: bench.balanceId, discIds, openedAt: at(0) });
  const meter = (lightPath: string, minutes: number, powerNw: number, discId: string | null = null): Promise<any> =>
    record(technician, 'recordMeterReading', 'RecordMeterReadingInput', {
      id: newId(), lightPath, observedAt: at(minutes), powerText: powerNw.toFixed(1), powerUnit: 'nW', discId, dryingRunId, entryMode: 'LINE', rawLine: `${powerNw.toFixed(1)} nW`,
    });
  await meter('DARK', -3, 1);
  await meter('REFERENCE', -2, 1001);
  const weighingIds: string[][] = discIds.map(() => []);
  for (const [i, discId] of discIds.entries()) {
    const { turgidMg, dryMg, rwc, transmittance } = courses[i]!;
    for (const [step, value] of rwc.entries()) {
      const minutes = step * 10 + i * 0.5;
      const made = await record(technician, ...split(weighing(bench, discId, 'DRYING', minutes, dryMg + value * (turgidMg - dryMg), { dryingRunId })));
      weighingIds[i]!.push(made.weighing.id);
      const next = rwc[step + 1];
      if (next !== undefined) await meter('READING', minutes + 5, 1 + 1000 * transmittance(Math.sqrt(value * next)), discId);
    }
  }
  await meter('REFERENCE', rwcMinutes(courses), 1003);
  await record(technician, 'closeDryingRun', 'DryingRunStepInput', { id: newId(), dryingRunId });
  const ovenCycleId = newId();
  await record(technician, 'startOvenCycle', 'StartOvenCycleInput', { id: ovenCycleId, label: `O${runs}`, ovenId: bench.ovenId, setTemperatureC: '70', discIds, startedAt: at(120) });
  for (const [i, discId] of discIds.entries()) {
    await record(technician, ...split(weighing(bench, discId, 'DRY', 1500, courses[i]!.dryMg + 0.01, { ovenCycleId })));
    await record(technician, ...split(weighing(bench, discId, 'DRY', 1565, courses[i]!.dryMg, { ovenCycleId })));
  }
  await record(technician, 'unloadOvenCycle', 'UnloadOvenCycleInput', { id: newId(), ovenCycleId, unloadedAt: at(1570) });
  await record(manager, 'releaseDryingRun', 'DryingRunStepInput', { id: newId(), dryingRunId });
  return { dryingRunId, discIds, weighingIds };
}

const rwcMinutes = (courses: readonly DiscCourse[]): number => Math.max(...courses.map(({ rwc }) => rwc.length)) * 10;

const split = (input: object): [string, string, object, string] => [WEIGH[0], WEIGH[1], input, WEIGH[2]];
