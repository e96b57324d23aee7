import { at, courseOf, dryDiscs, furnish, record, type Bench, type RunMade } from './chain.js';
import { PIXEL, storeFile } from './stored-file.js';
import { newId, PASSWORD, type Client, type TestLab } from './lab.js';

/** Six leaves whose curves differ in height as real leaves do. */
export const HEIGHTS = [-0.1, 0.06, -0.03, 0.09, 0.02, -0.05];

export interface FilledLab {
  readonly bench: Bench;
  readonly plantId: string;
  readonly run: RunMade;
  readonly calibrationId: string;
  readonly versionId: string;
  readonly lotId: string;
  readonly unitId: string;
  readonly certificateId: string;
  readonly installationId: string;
  readonly tripId: string;
  readonly decisionId: string;
}

/** Leaves of one plant, their discs dried and the run released: what a calibration is fitted to. */
export async function driedLeaves(lab: TestLab, heights: readonly number[] = HEIGHTS): Promise<Pick<FilledLab, 'bench' | 'plantId' | 'run'>> {
  const technician = lab.as('TECHNICIAN');
  const bench = await furnish(lab.as('MANAGER'));
  const { leaf } = await technician.ask<any>('query ($id: UUID!) { leaf(id: $id) { plant { id } } }', { id: bench.leafId });
  const leafIds = [bench.leafId];
  for (let i = 2; i <= heights.length; i += 1) {
    const id = newId();
    await record(technician, 'recordLeaf', 'RecordLeafInput', { id, plantId: leaf.plant.id, label: `F1-L${i}` });
    leafIds.push(id);
  }
  const run = await dryDiscs(bench, technician, lab.as('MANAGER'), leafIds, heights.map((height) => courseOf(Math.log(0.15) + height)));
  return { bench, plantId: leaf.plant.id, run };
}

export interface CropDried {
  readonly cropId: string;
  readonly runId: string;
  readonly leafIds: string[];
  readonly discIds: string[];
}

/** Leaves of another crop, dried on the same rig and released: `shift` higher on ln T than figs, `slope` along RWC. */
export async function otherCropDried(lab: TestLab, bench: Bench, name: string, { heights, shift = 0, slope = -1 }: { heights: readonly number[]; shift?: number; slope?: number }): Promise<CropDried> {
  const [manager, technician] = [lab.as('MANAGER'), lab.as('TECHNICIAN')];
  const [cropId, plantId] = [newId(), newId()];
  await record(manager, 'recordCrop', 'RecordCropInput', { id: cropId, name });
  await record(technician, 'recordPlant', 'RecordPlantInput', { id: plantId, cropId, label: `${name} 1` });
  const leafIds = heights.map(newId);
  for (const [i, id] of leafIds.entries()) await record(technician, 'recordLeaf', 'RecordLeafInput', { id, plantId, label: `${name} L${i + 1}` });
  const run = await dryDiscs(bench, technician, manager, leafIds, heights.map((height) => courseOf(Math.log(0.15) + height + shift, slope)));
  return { cropId, runId: run.dryingRunId, leafIds, discIds: run.discIds };
}

export async function sign(client: Client, subjectKind: string, subjectId: string, meaning: string, statement?: string): Promise<void> {
  await record(client, 'sign', 'SignInput', { id: newId(), subjectKind, subjectId, meaning, password: PASSWORD, statement });
}

/** The pull-in voltage and P0 that `characterisedUnit` gives its unit. */
export const UNIT = { pullInV: 11.875, p0Nw: 300 } as const;

/** A lot and a unit with a sweep, trip tests and a bias-threshold curve P_th = P0 (1 − (V/V_pi)^(2/3)). */
export async function characterisedUnit(engineer: Client, label = 'U-701'): Promise<Pick<FilledLab, 'lotId' | 'unitId'>> {
  const lotId = newId();
  await record(engineer, 'registerDeviceLot', 'RegisterDeviceLotInput', { id: lotId, label: `Lot of ${label}` });
  return { lotId, unitId: await unitOfLot(engineer, lotId, label) };
}

/** @param p0Nw power at zero bias: units of one lot differ in it */
export async function unitOfLot(engineer: Client, lotId: string, label: string, p0Nw: number = UNIT.p0Nw): Promise<string> {
  const unitId = newId();
  await record(engineer, 'registerDeviceUnit', 'RegisterDeviceUnitInput', { id: unitId, lotId, label });
  const steps = Array.from({ length: 60 }, (_, i) => [0.25 * (i + 1), 0.25 * (i + 1) < 12 ? 2e-12 : 1e-7]);
  await record(engineer, 'recordBiasSweep', 'RecordBiasSweepInput', { id: newId(), deviceUnitId: unitId, observedAt: at(-3000), direction: 'UP', polarity: 'POSITIVE', steps });
  for (const [i, biasV] of [4, 6, 8, 9, 10, 11].entries()) {
    for (const wobble of [0.99, 1.01]) {
      const power = p0Nw * (1 - (biasV / UNIT.pullInV) ** (2 / 3)) * wobble;
      await record(engineer, 'recordTripTest', 'RecordTripTestInput', {
        id: newId(), deviceUnitId: unitId, observedAt: at(-2900 + i), biasV: String(biasV), tripPowerText: power.toFixed(2), tripPowerUnit: 'nW', rawLine: `${biasV} V ${power.toFixed(2)} nW`,
      });
    }
  }
  await record(engineer, 'fitBiasThresholdCurve', 'FitBiasThresholdCurveInput', { id: newId(), deviceUnitId: unitId, exponent: 2 / 3 });
  return unitId;
}

export async function lightReference(engineer: Client): Promise<string> {
  const id = newId();
  await record(engineer, 'recordLightReference', 'RecordLightReferenceInput', {
    id, label: 'North block, noon', site: 'North block', observedAt: at(-1000), powerText: '480', powerUnit: 'nW', relativeSd: '0.1', basis: 'MEASURED',
  });
  return id;
}

/**
 * A longitude for a rule whose window around noon is the whole day: there the night's turn, which parts one day's trips from the
 * next day's, is hours away from whatever happened lately, at whatever hour the test runs.
 */
export function longitudeByDay(): string {
  const hour = new Date().getUTCHours();
  return hour >= 22 || hour < 1 ? '-100' : '11.5';
}

/** The whole chain through the mutations a person uses: from discs to a decision. */
export async function fillLab(lab: TestLab): Promise<FilledLab> {
  const [researcher, engineer, manager] = [lab.as('RESEARCHER'), lab.as('FIELD_ENGINEER'), lab.as('MANAGER')];
  const dried = await driedLeaves(lab);
  const [calibrationId, versionId, certificateId, installationId, tripId, decisionId] = Array.from({ length: 6 }, newId) as [string, string, string, string, string, string];
  await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig on rig A', cropId: dried.bench.cropId });
  await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [dried.run.dryingRunId] });
  await sign(engineer, 'calibration_version', versionId, 'REVIEWED');
  await sign(manager, 'calibration_version', versionId, 'APPROVED');
  const unit = await characterisedUnit(engineer);
  const lightReferenceId = await lightReference(engineer);
  const { certificate } = await record(engineer, 'issueCertificate', 'IssueCertificateInput', {
    id: certificateId, deviceUnitId: unit.unitId, calibrationVersionId: versionId, lightReferenceId, targetRwc: 0.8, targetBasis: 'Test target', validUntil: at(5_000_000),
  }, 'certificate { biasV }');
  await sign(researcher, 'threshold_certificate', certificateId, 'REVIEWED');
  await sign(manager, 'threshold_certificate', certificateId, 'APPROVED');
  await record(engineer, 'recordInstallation', 'RecordInstallationInput', {
    id: installationId, deviceUnitId: unit.unitId, certificateId, site: 'North block', zone: 'N2', plantNote: 'row 3, tree 12', leafSide: 'ADAXIAL_UP', tiltDeg: '15',
    biasReadbackV: String(certificate.biasV), armedAt: at(3000),
  });
  await record(engineer, 'recordTrip', 'RecordTripInput', { id: tripId, installationId, trippedAt: at(9000), seenAt: at(9100), source: 'PERSON', lightPowerNw: '500' });
  await record(engineer, 'recordDecision', 'RecordDecisionInput', {
    id: decisionId, decidedAt: at(9200), zone: 'N2', action: 'IRRIGATE', reason: 'Two of three units tripped at noon.', depthMm: '12', tripIds: [tripId],
  });
  return { ...dried, calibrationId, versionId, ...unit, certificateId, installationId, tripId, decisionId };
}

/** What loggers, rules and later looks add to a filled lab. */
export async function fillField(lab: TestLab, { installationId, decisionId }: FilledLab): Promise<void> {
  const [engineer, researcher, manager] = [lab.as('FIELD_ENGINEER'), lab.as('RESEARCHER'), lab.as('MANAGER')];
  const inputs = [{ id: newId(), installationId, observedAt: at(9300), latched: true, source: 'LOGGER', lightPowerNw: '470', biasReadbackV: '9.4', rawLine: 'U-701;1;470', note: 'Evening round.' }];
  const { recordFieldReports: [reported] } = await engineer.ask<any>('mutation ($inputs: [RecordFieldReportInput!]!) { recordFieldReports(inputs: $inputs) { problem { message } } }', { inputs });
  if (reported.problem) throw new Error(reported.problem.message);
  await record(engineer, 'recordLatchReset', 'RecordLatchResetInput', { id: newId(), installationId, observedAt: at(9400), opened: true, note: 'After irrigation.' });
  await record(engineer, 'recordRain', 'RecordRainInput', { id: newId(), zone: 'N2', observedAt: at(9500), depthMm: '2.4', note: 'Gauge at the gate.' });
  await record(engineer, 'recordDecisionOutcome', 'RecordDecisionOutcomeInput', { id: newId(), decisionId, observedAt: at(9600), verdict: 'RIGHT', seen: 'RWC 93 % two days later.' });
  const ruleId = newId();
  await record(engineer, 'recordZoneRule', 'RecordZoneRuleInput', {
    id: ruleId, zone: 'N2', latitude: '48.2', longitude: '11.5', needed: 1, windows: 1, hoursAroundNoon: '2', maxAgeHours: '48', silentAfterHours: '6', minHealthy: 1, lockoutHours: '24', rainHoldMm: '5', rainHoldHours: '24', basis: 'Invented for tests.',
  });
  await sign(researcher, 'zone_rule', ruleId, 'REVIEWED');
  await sign(manager, 'zone_rule', ruleId, 'APPROVED');
  await record(engineer, 'adviseZone', 'AdviseZoneInput', { id: newId(), zone: 'N2' });
  const { id: storedFileId } = await storeFile(engineer, 'plan.png', PIXEL, 'PLAN');
  await record(engineer, 'recordSitePlan', 'RecordSitePlanInput', { id: newId(), site: 'North block', storedFileId, northDeg: '48.201', southDeg: '48.199', westDeg: '11.499', eastDeg: '11.501' });
  await record(engineer, 'endInstallation', 'EndInstallationInput', { id: newId(), installationId, observedAt: at(9700), reason: 'Leaf shed.' });
}
