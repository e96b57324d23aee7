import { at, record } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { characterisedUnit, driedLeaves, lightReference, sign, type FilledLab } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let dried: Pick<FilledLab, 'bench' | 'plantId' | 'run'>;
let calibrationId: string;
let versionId: string;
let unitId: string;
let lightReferenceId: string;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab with scopes');
  dried = await driedLeaves(lab);
  [calibrationId, versionId] = [newId(), newId()];
  await record(lab.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig on rig A', cropId: dried.bench.cropId });
  await record(lab.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [dried.run.dryingRunId] });
  ({ unitId } = await characterisedUnit(lab.as('FIELD_ENGINEER')));
  lightReferenceId = await lightReference(lab.as('FIELD_ENGINEER'));
});

afterAll(() => server.close());

const STATE = 'mutation ($input: RecordCalibrationScopeInput!) { recordCalibrationScope(input: $input) { scope { id rwcMin endsOn validUntil } problem { code field message } } }';
const state = async (more: object): Promise<any> =>
  (await lab.as('RESEARCHER').ask<any>(STATE, { input: { id: newId(), calibrationVersionId: versionId, rwcMin: 0.7, rwcMax: 0.94, ...more } })).recordCalibrationScope;

async function findingsOf(use: object): Promise<string[]> {
  const { calibrationVersion } = await lab.as('FIELD_ENGINEER').ask<any>(
    'query ($id: UUID!, $use: CalibrationUseInput!) { calibrationVersion(id: $id) { scopeFindings(use: $use) { code severity message } } }', { id: versionId, use },
  );
  return calibrationVersion.scopeFindings.map(({ code }: { code: string }) => code);
}

const issue = async (more: object = {}): Promise<any> =>
  (await lab.as('FIELD_ENGINEER').ask<any>(
    'mutation ($input: IssueCertificateInput!) { issueCertificate(input: $input) { certificate { id } problem { code field message } objections { code message } } }',
    { input: { id: newId(), deviceUnitId: unitId, calibrationVersionId: versionId, lightReferenceId, targetRwc: 0.8, targetBasis: 'Test target', validUntil: at(5_000_000), ...more } },
  )).issueCertificate;

it('a scope may not be wider than the readings, and is refused in words', async () => {
  expect(await state({ rwcMin: 0.05 })).toMatchObject({ scope: null, problem: { code: 'INPUT', field: 'rwcMin' } });
  expect(await state({ rwcMin: 0.9, rwcMax: 0.8 })).toMatchObject({ problem: { code: 'INPUT' } });
});

it('tells each way in which a use leaves the scope, and nothing inside it', async () => {
  const { scope, problem } = await state({ cultivars: ['Brown Turkey'], growthStages: ['fruiting'], leafSide: 'ADAXIAL_UP', bandFromNm: '1450', bandToNm: '1490', validUntil: '2100-01-01T00:00:00Z', endsOn: ['LAMP_CHANGED', 'FAILED_CHECK'] });
  expect(problem).toEqual(null);
  expect(scope).toMatchObject({ rwcMin: 0.7, endsOn: ['LAMP_CHANGED', 'FAILED_CHECK'] });
  expect(await findingsOf({ cropId: dried.bench.cropId, cultivar: 'brown turkey', growthStage: 'Fruiting', leafSide: 'ADAXIAL_UP', bandCentreNm: 1470, rwc: 0.8, until: '2099-01-01T00:00:00Z' })).toEqual([]);
  const otherCrop = newId();
  await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: otherCrop, name: 'Olive' });
  expect(await findingsOf({ cropId: otherCrop, cultivar: 'Dottato', growthStage: 'seedling', leafSide: 'ABAXIAL_UP', bandCentreNm: 1200, rwc: 0.6, until: '2101-01-01T00:00:00Z' }))
    .toEqual(['SCOPE_EXPIRES', 'SCOPE_CROP', 'SCOPE_CULTIVAR', 'SCOPE_STAGE', 'SCOPE_LEAF_SIDE', 'SCOPE_BAND', 'SCOPE_RWC']);
});

it('stops a certificate outside the scope until a reason is given, which shows in the Thread', async () => {
  await sign(lab.as('FIELD_ENGINEER'), 'calibration_version', versionId, 'REVIEWED');
  await sign(lab.as('MANAGER'), 'calibration_version', versionId, 'APPROVED');
  expect(await state({})).toMatchObject({ problem: { code: 'STATE' } });
  const refused = await issue({ targetRwc: 0.65 });
  expect(refused).toMatchObject({ certificate: null, problem: { code: 'OUT_OF_SCOPE' } });
  expect(refused.objections.map(({ code }: { code: string }) => code)).toContain('SCOPE_RWC');
  const { certificate } = await issue({ targetRwc: 0.65, overrideReason: 'Trial of a late trip, agreed with the grower' });
  const { thread } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "threshold_certificate", id: $id, direction: DOWN) { root { label } } ledger(first: 5) { nodes { reason } } }', { id: certificate.id });
  expect(JSON.stringify(thread)).toContain('certificate');
  expect((await issue({ targetRwc: 0.8 })).problem).toBeNull();
});

it('ends when the rig is changed, as was stated', async () => {
  const { rigs } = await lab.as('MANAGER').ask<any>('{ rigs { id label version source bandCentreNm bandWidthNm meter { id } } }');
  const rig = rigs[0];
  await record(lab.as('MANAGER'), 'registerRig', 'RegisterRigInput', { id: newId(), label: rig.label, version: rig.version + 1, source: 'another lamp', bandCentreNm: rig.bandCentreNm, bandWidthNm: rig.bandWidthNm, meterId: rig.meter.id });
  expect(await findingsOf({})).toEqual(['SCOPE_LAMP_CHANGED']);
  expect((await issue()).objections.map(({ code }: { code: string }) => code)).toContain('SCOPE_LAMP_CHANGED');
});

it('withdrawn, it carries no new certificate, whatever the reason', async () => {
  await sign(lab.as('MANAGER'), 'calibration_version', versionId, 'WITHDRAWN', 'The lamp was drifting.');
  expect(await issue({ overrideReason: 'Nevertheless' })).toMatchObject({ certificate: null, problem: { code: 'STATE', field: 'calibrationVersionId' } });
});
