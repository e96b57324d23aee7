import { at, record } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { characterisedUnit, fillLab, sign, type FilledLab } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let filled: FilledLab;
let engineer: Client;
let biasV: number;

const INSTALL = 'mutation ($input: RecordInstallationInput!) { recordInstallation(input: $input) { installation { id } objections { code message } problem { code field } } }';

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Installing lab');
  filled = await fillLab(lab);
  engineer = lab.as('FIELD_ENGINEER');
  ({ thresholdCertificate: { biasV } } = await engineer.ask<any>('query ($id: UUID!) { thresholdCertificate(id: $id) { biasV } }', { id: filled.certificateId }));
});

afterAll(() => server.close());

const install = async (more: object = {}): Promise<any> =>
  (await engineer.ask<any>(INSTALL, {
    input: {
      id: newId(), deviceUnitId: filled.unitId, certificateId: filled.certificateId, site: 'North block', zone: 'N2', plantNote: 'row 4', leafSide: 'ADAXIAL_UP', biasReadbackV: String(biasV), armedAt: at(20_000), ...more,
    },
  })).recordInstallation;
const codes = ({ objections }: any): string[] => objections.map(({ code }: any) => code);

it('says what a wrong bias would do to the trip, and lets a right one through', async () => {
  const off = await install({ biasReadbackV: (biasV * 1.03).toFixed(3) });
  expect(off).toMatchObject({ installation: null, problem: { code: 'OUT_OF_SCOPE', field: 'overrideReason' } });
  // P_th falls by n v^n/(1 − v^n) of the relative rise of the bias; over b near 1 that is the shift of the trip RWC.
  const v = (biasV / 11.875) ** (2 / 3);
  const points = (100 * ((2 / 3) * v) / (1 - v)) * Math.log(1.03);
  expect(off.objections).toEqual([expect.objectContaining({ code: 'WRONG_BIAS', message: expect.stringMatching(/ points of RWC wetter\.$/) })]);
  expect(Number(/about ([\d.]+) points/.exec(off.objections[0].message)![1])).toBeCloseTo(points, 0);
  expect(codes(await install({ biasReadbackV: (biasV * 0.97).toFixed(3) }))).toEqual(['WRONG_BIAS']);
});

it('asks about a leaf outside of the calibration’s crop, and a light taken far away', async () => {
  const [cropId, plantId, lightReferenceId, certificateId] = [newId(), newId(), newId(), newId()];
  await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Olive' });
  await record(lab.as('TECHNICIAN'), 'recordPlant', 'RecordPlantInput', { id: plantId, cropId, label: 'O1' });
  expect(codes(await install({ plantId }))).toEqual(['SCOPE_CROP']);
  await record(engineer, 'recordLightReference', 'RecordLightReferenceInput', {
    id: lightReferenceId, label: 'Hill', site: 'Hill', observedAt: at(-900), powerText: '480', powerUnit: 'nW', relativeSd: '0.1', basis: 'MEASURED', latitude: '48.2', longitude: '11.5',
  });
  const { unitId } = await characterisedUnit(engineer, 'U-702');
  const issued = await record(engineer, 'issueCertificate', 'IssueCertificateInput', {
    id: certificateId, deviceUnitId: unitId, calibrationVersionId: filled.versionId, lightReferenceId, targetRwc: 0.8, targetBasis: 'Test target', validUntil: at(5_000_000),
  }, 'certificate { biasV }');
  const there = { deviceUnitId: unitId, certificateId, biasReadbackV: String(issued.certificate.biasV), latitude: '48.2' };
  expect(codes(await install({ ...there, longitude: '11.6' }))).toEqual(['CERTIFICATE_NOT_APPROVED']);
  expect(codes(await install({ ...there, longitude: '12.5' }))).toEqual(['CERTIFICATE_NOT_APPROVED', 'LIGHT_FAR_AWAY']);
});

it('tells all that has happened since the certificate was issued, and the reason against it shows in the Thread', async () => {
  expect(codes(await install({ armedAt: at(5_000_001) }))).toEqual(['CERTIFICATE_ENDED']);
  const versionId = newId();
  await record(lab.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId: filled.calibrationId, dryingRunIds: [filled.run.dryingRunId] });
  await sign(engineer, 'calibration_version', versionId, 'REVIEWED');
  await sign(lab.as('MANAGER'), 'calibration_version', versionId, 'APPROVED');
  expect(codes(await install())).toEqual(['CALIBRATION_SUPERSEDED']);
  await sign(lab.as('MANAGER'), 'calibration_version', filled.versionId, 'WITHDRAWN', 'The lamp was drifting.');
  await record(engineer, 'retireDeviceUnit', 'RetireDeviceUnitInput', { id: newId(), deviceUnitId: filled.unitId, observedAt: at(10_000), cause: 'RESET_FAILS', reason: 'Two pulses did not release it.' });
  await record(engineer, 'retract', 'RetractInput', { id: newId(), targetKind: 'weighing', targetId: filled.run.weighingIds[2]![3]!, reasonCode: 'WRONG_DISC', reason: 'The neighbour was on the pan.' });
  const refused = await install();
  expect(codes(refused)).toEqual(['UNIT_RETIRED', 'CERTIFICATE_STALE', 'CALIBRATION_WITHDRAWN', 'CALIBRATION_STALE']);
  const id = newId();
  expect((await install({ id, overrideReason: 'A trial under the glass, nobody irrigates by it.' })).problem).toBeNull();
  const { thread } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "installation", id: $id, direction: DOWN) { root { remarks { message } } } }', { id });
  expect(thread.root.remarks.map(({ message }: any) => message).join()).toContain('A trial under the glass');
});
