import { at, courseOf, dryDiscs, furnish, record, type Bench, type RunMade } from '../support/chain.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;
let run: RunMade;
const ids = Object.fromEntries(['calibration', 'version', 'lot', 'unit', 'light', 'certificate', 'installation', 'trip', 'decision'].map((name) => [name, newId()])) as Record<string, string>;

/** Six leaves whose curves differ in height as real leaves do. */
const HEIGHTS = [-0.1, 0.06, -0.03, 0.09, 0.02, -0.05];

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Chain lab');
  bench = await furnish(lab.as('MANAGER'));
  const { plantId } = await plantOf(bench.leafId);
  const leafIds = [bench.leafId];
  for (let i = 2; i <= HEIGHTS.length; i += 1) {
    const id = newId();
    await record(lab.as('TECHNICIAN'), 'recordLeaf', 'RecordLeafInput', { id, plantId, label: `F1-L${i}` });
    leafIds.push(id);
  }
  run = await dryDiscs(bench, lab.as('TECHNICIAN'), lab.as('MANAGER'), leafIds, HEIGHTS.map((height) => courseOf(Math.log(0.15) + height)));
});

afterAll(() => server.close());

async function plantOf(leafId: string): Promise<{ plantId: string }> {
  const { leaf } = await lab.as('TECHNICIAN').ask<any>('query ($id: UUID!) { leaf(id: $id) { plant { id } } }', { id: leafId });
  return { plantId: leaf.plant.id };
}

const sign = (role: 'RESEARCHER' | 'FIELD_ENGINEER' | 'MANAGER', subjectKind: string, subjectId: string, meaning: string, password = PASSWORD): Promise<any> =>
  lab.as(role).ask<any>('mutation ($input: SignInput!) { sign(input: $input) { signature { meaning } problem { code field } } }', {
    input: { id: newId(), subjectKind, subjectId, meaning, password },
  });

const ISSUE = `mutation ($input: IssueCertificateInput!) { issueCertificate(input: $input) {
  certificate { biasV thresholdPowerNw transmittanceAtTarget tripRwcLow tripRwcHigh tripRwcSd shares { cause share } operatingCharacteristic { rwc pTrip } state }
  objections { code severity } problem { code field } } }`;

describe('the chain', () => {
  it('fits a calibration that knows how leaves differ, and reads RWC back', async () => {
    await record(lab.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: ids.calibration, label: 'Fig on rig A', cropId: bench.cropId });
    await record(lab.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id: ids.version, calibrationId: ids.calibration, dryingRunIds: [run.dryingRunId] });
    const { calibrationVersion: version } = await lab.as('AUDITOR').ask<any>(
      `query ($id: UUID!) { calibrationVersion(id: $id) { version state leafCount parameters { name value standardError } betweenLeafSdRwc rwcMin rwcMax curve { newLeafLow meanLow meanHigh newLeafHigh } rwcAt(transmittance: 0.18) { rwc meanLow meanHigh newLeafLow newLeafHigh problem { message } } remarks { code } } }`,
      { id: ids.version },
    );
    expect(version).toMatchObject({ version: 1, state: 'DRAFT', leafCount: 6 });
    const [a, c] = version.parameters;
    expect(c.value).toBeCloseTo(-1, 2);
    expect(a.value).toBeCloseTo(Math.log(0.15) + 1, 1);
    // SD of the heights that were put in, divided by the slope.
    expect(version.betweenLeafSdRwc).toBeCloseTo(0.0728, 2);
    expect(version.rwcAt.problem).toBeNull();
    expect(version.rwcAt.rwc).toBeCloseTo(1 - Math.log(0.18 / 0.15), 1);
    expect(version.rwcAt.newLeafHigh - version.rwcAt.newLeafLow).toBeGreaterThan(2 * (version.rwcAt.meanHigh - version.rwcAt.meanLow));
  });

  it('lets nobody approve their own work, or without the password', async () => {
    expect((await sign('RESEARCHER', 'calibration_version', ids.version!, 'APPROVED')).sign.problem.code).toBe('SEPARATION_OF_DUTIES');
    expect((await sign('MANAGER', 'calibration_version', ids.version!, 'APPROVED')).sign.problem).toMatchObject({ code: 'STATE' });
    expect((await sign('MANAGER', 'calibration_version', ids.version!, 'REVIEWED', 'wrong password')).sign.problem).toMatchObject({ code: 'CREDENTIALS', field: 'password' });
    expect((await sign('FIELD_ENGINEER', 'calibration_version', ids.version!, 'REVIEWED')).sign.problem).toBeNull();
    expect((await sign('MANAGER', 'calibration_version', ids.version!, 'APPROVED')).sign.problem).toBeNull();
  });

  it('characterises a unit from its sweeps and trip tests', async () => {
    const engineer = lab.as('FIELD_ENGINEER');
    await record(engineer, 'registerDeviceLot', 'RegisterDeviceLotInput', { id: ids.lot, label: 'Lot 7' });
    await record(engineer, 'registerDeviceUnit', 'RegisterDeviceUnitInput', { id: ids.unit, lotId: ids.lot, label: 'U-701' });
    const steps = Array.from({ length: 60 }, (_, i) => [0.25 * (i + 1), 0.25 * (i + 1) < 12 ? 2e-12 : 1e-7]);
    const { biasSweep } = await record(engineer, 'recordBiasSweep', 'RecordBiasSweepInput', { id: newId(), deviceUnitId: ids.unit, observedAt: at(-3000), direction: 'UP', polarity: 'POSITIVE', steps }, 'biasSweep { pullInV uPullInV }');
    expect(biasSweep.pullInV).toBeCloseTo(11.875, 6);
    for (const [i, biasV] of [4, 6, 8, 9, 10, 11].entries()) {
      for (const wobble of [0.99, 1.01]) {
        const power = 300 * (1 - (biasV / 11.875) ** (2 / 3)) * wobble;
        await record(engineer, 'recordTripTest', 'RecordTripTestInput', { id: newId(), deviceUnitId: ids.unit, observedAt: at(-2900 + i), biasV: String(biasV), tripPowerText: power.toFixed(2), tripPowerUnit: 'nW', rawLine: `${biasV} V ${power.toFixed(2)} nW` });
      }
    }
    const { curve } = await record(engineer, 'fitBiasThresholdCurve', 'FitBiasThresholdCurveInput', { id: newId(), deviceUnitId: ids.unit, exponent: 2 / 3 }, 'curve { p0Nw pullInV exponent residualSdNw }');
    expect(curve.p0Nw).toBeCloseTo(300, -0.5);
    expect(curve.exponent).toBeCloseTo(2 / 3, 6);
  });

  it('certifies a bias for a target, and says what stands against it', async () => {
    const engineer = lab.as('FIELD_ENGINEER');
    await record(engineer, 'recordLightReference', 'RecordLightReferenceInput', { id: ids.light, label: 'North block, noon', site: 'North block', observedAt: at(-1000), powerText: '480', powerUnit: 'nW', relativeSd: '0.1', basis: 'MEASURED' });
    const input = { id: ids.certificate, deviceUnitId: ids.unit, calibrationVersionId: ids.version, lightReferenceId: ids.light, targetRwc: 0.8, targetBasis: 'Test target', validUntil: at(5_000_000) };
    const outside = await engineer.ask<any>(ISSUE, { input: { ...input, id: newId(), targetRwc: 0.3 } });
    expect(outside.issueCertificate.problem).not.toBeNull();
    expect(outside.issueCertificate.objections.map(({ code }: any) => code)).toContain('TARGET_OUTSIDE_CALIBRATION');
    const { issueCertificate } = await engineer.ask<any>(ISSUE, { input });
    expect(issueCertificate.problem).toBeNull();
    const certificate = issueCertificate.certificate;
    expect(certificate.transmittanceAtTarget).toBeCloseTo(0.15 * Math.exp(0.2), 2);
    expect(certificate.thresholdPowerNw).toBeCloseTo(480 * certificate.transmittanceAtTarget, 6);
    // P_th = P0 (1 - (V/V_pi)^(2/3)) turned round.
    expect(certificate.biasV).toBeCloseTo(11.875 * (1 - certificate.thresholdPowerNw / 300) ** 1.5, 0);
    expect(certificate.shares.reduce((sum: number, { share }: any) => sum + share, 0)).toBeCloseTo(1, 9);
    expect(certificate.tripRwcHigh - certificate.tripRwcLow).toBeGreaterThan(3 * certificate.tripRwcSd);
    expect(certificate.operatingCharacteristic[0].pTrip).toBeGreaterThan(0.98);
    expect(certificate.operatingCharacteristic.at(-1).pTrip).toBeLessThan(0.3);
  });

  it('stops an installation by an unapproved certificate or a wrong bias', async () => {
    const engineer = lab.as('FIELD_ENGINEER');
    const { thresholdCertificate } = await engineer.ask<any>('query ($id: UUID!) { thresholdCertificate(id: $id) { biasV } }', { id: ids.certificate });
    const input = { id: ids.installation, deviceUnitId: ids.unit, certificateId: ids.certificate, site: 'North block', zone: 'N2', plantNote: 'row 3, tree 12', leafSide: 'ADAXIAL_UP', tiltDeg: '15', biasReadbackV: String(thresholdCertificate.biasV), armedAt: at(3000) };
    const INSTALL = 'mutation ($input: RecordInstallationInput!) { recordInstallation(input: $input) { installation { state } objections { code } problem { code field } } }';
    const early = await engineer.ask<any>(INSTALL, { input });
    expect(early.recordInstallation.objections.map(({ code }: any) => code)).toEqual(['CERTIFICATE_NOT_APPROVED']);
    expect((await sign('RESEARCHER', 'threshold_certificate', ids.certificate!, 'REVIEWED')).sign.problem).toBeNull();
    expect((await sign('MANAGER', 'threshold_certificate', ids.certificate!, 'APPROVED')).sign.problem).toBeNull();
    const wrong = await engineer.ask<any>(INSTALL, { input: { ...input, biasReadbackV: '3' } });
    expect(wrong.recordInstallation.objections.map(({ code }: any) => code)).toEqual(['WRONG_BIAS']);
    const right = await engineer.ask<any>(INSTALL, { input });
    expect(right.recordInstallation).toMatchObject({ problem: null, installation: { state: 'ARMED' } });
  });

  it('ends in a trip and a decision, and leads back to every line of the balance', async () => {
    const engineer = lab.as('FIELD_ENGINEER');
    const { trip } = await record(engineer, 'recordTrip', 'RecordTripInput', { id: ids.trip, installationId: ids.installation, trippedAt: at(9000), seenAt: at(9100), source: 'PERSON', lightPowerNw: '500' }, 'trip { inferredRwc inferredLow inferredHigh }');
    // Brighter than the reference by 500/480: it tripped wetter than the target, by ln(500/480)/b with b near 1.
    expect(trip.inferredRwc - 0.8).toBeCloseTo(Math.log(500 / 480), 2);
    expect(trip.inferredHigh - trip.inferredLow).toBeGreaterThan(0.2);
    await record(engineer, 'recordDecision', 'RecordDecisionInput', { id: ids.decision, decidedAt: at(9200), zone: 'N2', action: 'IRRIGATE', reason: 'Two of three units tripped at noon.', depthMm: '12', tripIds: [ids.trip] });
    const { thread } = await lab.as('AUDITOR').ask<any>(
      `query ($id: UUID!) { thread(kind: "decision", id: $id, direction: DOWN) { truncated nodes { kind label summary rawLine depth recordedBy { displayName } } } }`,
      { id: ids.decision },
    );
    const kinds = new Set(thread.nodes.map(({ kind }: any) => kind));
    for (const kind of ['trip', 'installation', 'threshold_certificate', 'calibration_version', 'rwc_series', 'weighing', 'meter_reading', 'bias_sweep', 'trip_test', 'light_reference', 'disc', 'leaf', 'plant', 'crop', 'oven_cycle', 'instrument']) expect(kinds).toContain(kind);
    const certificate = thread.nodes.find(({ kind }: any) => kind === 'threshold_certificate');
    expect(certificate.summary).toContain('approved by manager of Chain lab');
    const masses = thread.nodes.filter(({ kind }: any) => kind === 'weighing');
    expect(masses).toHaveLength(6 * (1 + 8 + 2));
    expect(masses.every(({ rawLine }: any) => /^\+ \d+\.\d\d mg S$/.test(rawLine))).toBe(true);
    const up = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "weighing", id: $id, direction: UP) { nodes { kind id } } }', { id: run.weighingIds[3]![4] });
    expect(up.thread.nodes.map(({ id }: any) => id)).toContain(ids.decision);
  });

  it('marks everything above an amended weighing stale, up to the certificate', async () => {
    const target = run.weighingIds[2]![3]!;
    const { retract } = await lab.as('TECHNICIAN').ask<any>('mutation ($input: RetractInput!) { retract(input: $input) { amendment { staleResults { kind } } problem { message } } }', {
      input: { id: newId(), targetKind: 'weighing', targetId: target, reasonCode: 'WRONG_DISC', reason: 'The neighbour was on the pan.' },
    });
    expect(retract.problem).toBeNull();
    expect(retract.amendment.staleResults.map(({ kind }: any) => kind).sort()).toEqual(['calibration_version', 'rwc_series', 'threshold_certificate']);
    const { due } = await lab.as('MANAGER').ask<any>('{ due { kind what } }');
    expect(due.map(({ kind }: any) => kind)).toContain('STALE_RESULT');
  });
});
