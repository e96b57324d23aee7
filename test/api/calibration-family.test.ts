import { families, fitLeaves, type FamilyName } from '#libs/regression';
import { at, dryDiscs, furnish, record, type Bench } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { characterisedUnit, sign } from '../support/whole-chain.js';

/** Leaves whose transmittance falls along a bend that a line does not follow; the families themselves are checked against R beside the library. */
let server: TestServer;
let lab: TestLab;
let bench: Bench;
let runId: string;
let calibrationId: string;

const HEIGHTS = [-0.06, 0.05, 0.02, -0.03, 0.07, -0.04, 0.01, -0.02];
const bend = (rwc: number): number => 0.08 + 0.3 / (1 + Math.exp(8 * (rwc - 0.75)));
const NAMES: Readonly<Record<string, FamilyName>> = { LOG_LINEAR: 'log-linear', LINEAR: 'linear', EXPONENTIAL: 'exponential', POWER: 'power', LOGISTIC: 'logistic' };

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab of bent curves');
  bench = await furnish(lab.as('MANAGER'));
  const technician = lab.as('TECHNICIAN');
  const { leaf } = await technician.ask<any>('query ($id: UUID!) { leaf(id: $id) { plant { id } } }', { id: bench.leafId });
  const leafIds = HEIGHTS.map(newId);
  for (const [i, id] of leafIds.entries()) await record(technician, 'recordLeaf', 'RecordLeafInput', { id, plantId: leaf.plant.id, label: `B${i + 1}` });
  const rwc = [0.97, 0.92, 0.87, 0.82, 0.77, 0.72, 0.67, 0.62];
  runId = (await dryDiscs(bench, technician, lab.as('MANAGER'), leafIds, HEIGHTS.map((height) => ({ turgidMg: 70, dryMg: 12, rwc, transmittance: (at) => bend(at) * Math.exp(height) })))).dryingRunId;
  calibrationId = newId();
  await record(lab.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Bent', cropId: bench.cropId });
});

afterAll(() => server.close());

async function frozen(family: string): Promise<any> {
  const id = newId();
  const { calibrationVersion } = await record(lab.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id, calibrationId, family, dryingRunIds: [runId] },
    'calibrationVersion { id family parameters { name value standardError } points { rwc transmittance leaf { id } } curve { rwc transmittance newLeafLow newLeafHigh } remarks { code } }');
  return calibrationVersion;
}

it.each(Object.keys(NAMES))('%s is frozen as the library fits it, and reads its own curve back', async (family) => {
  const version = await frozen(family);
  expect(version.family).toBe(family);
  const name = NAMES[family]!;
  const { fit } = fitLeaves(name, version.points.map(({ rwc, transmittance, leaf }: any) => ({ rwc, transmittance, leafId: leaf.id })), { method: 'REML', leafEffect: 'intercept' });
  expect(version.parameters.map((parameter: any) => parameter.name)).toEqual([...families[name].parameterNames]);
  if (!['LOG_LINEAR', 'LINEAR', 'POWER'].includes(family)) {
    version.parameters.forEach(({ value, standardError }: any, i: number) => {
      expect(value).toBeCloseTo(fit.fixed[i]!.estimate, 8);
      expect(standardError).toBeCloseTo(fit.fixed[i]!.standardError, 8);
    });
  }
  expect(version.remarks.map(({ code }: any) => code)).not.toContain('NAIVE_MEAN_BAND');
  const middle = version.curve[20];
  const { calibrationVersion: { rwcAt } } = await lab.as('RESEARCHER').ask<any>('query ($id: UUID!, $t: Float!) { calibrationVersion(id: $id) { rwcAt(transmittance: $t) { rwc newLeafLow newLeafHigh problem { message } } } }', { id: version.id, t: middle.transmittance });
  expect(rwcAt.problem).toBeNull();
  expect(rwcAt.rwc).toBeCloseTo(middle.rwc, 6);
  expect(rwcAt.newLeafLow).toBeLessThan(middle.rwc);
  expect(rwcAt.newLeafHigh).toBeGreaterThan(middle.rwc);
  const { recompute } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { recompute(kind: "calibration_version", id: $id) { same } }', { id: version.id });
  expect(recompute.same).toBe(true);
});

it('a certificate by a curve counts how leaves differ as one by a line does', async () => {
  const engineer = lab.as('FIELD_ENGINEER');
  const lightReferenceId = newId();
  // Light that hardly changes: what is left of the interval is mostly the leaves.
  await record(engineer, 'recordLightReference', 'RecordLightReferenceInput', { id: lightReferenceId, label: 'Lamp in the greenhouse', site: 'Greenhouse', observedAt: at(-1000), powerText: '480', powerUnit: 'nW', relativeSd: '0.001', basis: 'MEASURED' });
  const widths: Record<string, number> = {};
  for (const family of ['LOG_LINEAR', 'EXPONENTIAL', 'POWER', 'LOGISTIC']) {
    const { id } = await frozen(family);
    await sign(engineer, 'calibration_version', id, 'REVIEWED');
    await sign(lab.as('MANAGER'), 'calibration_version', id, 'APPROVED');
    const { unitId } = await characterisedUnit(engineer, `U-${family}`);
    const { certificate } = await record(engineer, 'issueCertificate', 'IssueCertificateInput', {
      id: newId(), deviceUnitId: unitId, calibrationVersionId: id, lightReferenceId, targetRwc: 0.8, targetBasis: 'Test target', validUntil: at(5_000_000), overrideReason: 'For the test.',
    }, 'certificate { tripRwcLow tripRwcHigh }');
    widths[family] = certificate.tripRwcHigh - certificate.tripRwcLow;
  }
  for (const width of Object.values(widths)) expect(width / widths['LOG_LINEAR']!).toBeGreaterThan(0.5);
  for (const width of Object.values(widths)) expect(width / widths['LOG_LINEAR']!).toBeLessThan(2);
});

describe('a curve tried on leaves it has not seen', () => {
  let otherRunId: string;
  const study = async (calibrationVersionId: string, more: object = {}): Promise<any> => (await lab.as('RESEARCHER').ask<any>(
    `mutation ($input: StudyTransferInput!) { studyTransfer(input: $input) { transferStudy { id sentence given { slope leafCount } remarks { code }
      readings { verdict leafEffects leafCount biasPoints insideLeaves comparison { ownSlope slopeRatio offsetPoints worstPoints commonLinePValue } points { rwc readRwc transmittance } curve { rwc transmittance newLeafLow newLeafHigh marginLow marginHigh } } } problem { code field message remedy } } }`,
    { input: { id: newId(), calibrationVersionId, cropId: bench.cropId, dryingRunIds: [otherRunId], marginPoints: 15, rwcFrom: 0.65, rwcTo: 0.9, ...more } })).studyTransfer;
  const recomputed = async (kind: string, id: string): Promise<any> =>
    (await lab.as('AUDITOR').ask<any>('query ($kind: String!, $id: UUID!) { recompute(kind: $kind, id: $id) { same steps { kind same differences { path then now } } } }', { kind, id })).recompute;

  beforeAll(async () => {
    const technician = lab.as('TECHNICIAN');
    const { leaf } = await technician.ask<any>('query ($id: UUID!) { leaf(id: $id) { plant { id } } }', { id: bench.leafId });
    const heights = [0.03, -0.02, 0.01, -0.03, 0.02, 0];
    const leafIds = heights.map(newId);
    for (const [i, id] of leafIds.entries()) await record(technician, 'recordLeaf', 'RecordLeafInput', { id, plantId: leaf.plant.id, label: `C${i + 1}` });
    const rwc = [0.96, 0.91, 0.86, 0.81, 0.76, 0.71, 0.66, 0.61];
    otherRunId = (await dryDiscs(bench, technician, lab.as('MANAGER'), leafIds, heights.map((height) => ({ turgidMg: 70, dryMg: 12, rwc, transmittance: (at) => bend(at) * Math.exp(height) })))).dryingRunId;
  }, 120_000);

  it.each(['EXPONENTIAL', 'POWER', 'LOGISTIC'])('%s: verdict, figures and picture, recomputed to the same', async (family) => {
    const { id } = await frozen(family);
    const { calibrationVersion } = await lab.as('RESEARCHER').ask<any>('query ($id: UUID!) { calibrationVersion(id: $id) { hasLeafEffects parameters { value } } }', { id });
    expect(calibrationVersion.hasLeafEffects).toBe(true);
    const { transferStudy: seen, problem } = await study(id);
    expect(problem).toBeNull();
    const { readings } = seen;
    expect(['HOLDS', 'HOLDS_WITH_OFFSET']).toContain(readings.verdict);
    expect(readings.comparison.slopeRatio).toBeCloseTo(1, 0);
    expect(readings.comparison.ownSlope / seen.given.slope).toBeCloseTo(readings.comparison.slopeRatio, 10);
    expect(Math.abs(readings.comparison.offsetPoints)).toBeLessThan(5);
    const parameters = calibrationVersion.parameters.map(({ value }: any) => value);
    for (const { readRwc, transmittance } of readings.points) {
      const read = families[NAMES[family]!].inverse(parameters, transmittance);
      if (read !== null) expect(readRwc).toBeCloseTo(read, 9);
    }
    for (const at of readings.curve) expect(at.transmittance).toBeCloseTo(families[NAMES[family]!].predict(parameters, at.rwc), 9);
    expect(await recomputed('transfer_study', seen.id)).toMatchObject({ same: true });
  }, 60_000);

  it('makes an adjusted version: its shape and spread from both, its height from own leaves', async () => {
    const { id } = await frozen('LOGISTIC');
    const { transferStudy } = await study(id);
    const adjusted = newId();
    const { calibrationVersion } = await record(lab.as('RESEARCHER'), 'adjustCalibration', 'AdjustCalibrationInput', { id: adjusted, calibrationId, transferStudyId: transferStudy.id },
      'calibrationVersion { family leafCount besideLeafCount hasLeafEffects parameters { name standardError } remarks { code } }');
    expect(calibrationVersion).toMatchObject({ family: 'LOGISTIC', leafCount: 14, besideLeafCount: 8, hasLeafEffects: true });
    expect(calibrationVersion.parameters).toHaveLength(4);
    expect(calibrationVersion.remarks.map(({ code }: any) => code)).toContain('ADJUSTED');
    expect(await recomputed('calibration_version', adjusted)).toMatchObject({ same: true });
  }, 60_000);
});

it('a curve of two leaves is not tried on others, and says why', async () => {
  const id = newId();
  const { points } = await frozen('POWER');
  const leafIds = [...new Set(points.map(({ leaf }: any) => leaf.id))].slice(0, 2);
  const { calibrationVersion } = await record(lab.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id, calibrationId, family: 'POWER', dryingRunIds: [runId], leafIds }, 'calibrationVersion { hasLeafEffects }');
  expect(calibrationVersion.hasLeafEffects).toBe(false);
  const { studyTransfer: { problem } } = await lab.as('RESEARCHER').ask<any>('mutation ($input: StudyTransferInput!) { studyTransfer(input: $input) { problem { code field message remedy } } }', {
    input: { id: newId(), calibrationVersionId: id, cropId: bench.cropId, dryingRunIds: [runId], marginPoints: 5 },
  });
  expect(problem).toMatchObject({ code: 'INPUT', field: 'calibrationVersionId', message: expect.stringContaining('tell nothing of how leaves differ') });
});
