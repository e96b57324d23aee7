import { fitLeafLine } from '#libs/regression';
import { at, record } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { characterisedUnit, driedLeaves, lightReference, otherCropDried, sign, type FilledLab } from '../support/whole-chain.js';
import { until } from '../support/until.js';

/** The fig lab shares; the other one has figs of its own and refits what it took over. */
let server: TestServer;
let giver: TestLab;
let taker: TestLab;
let versionId: string;
let dried: Pick<FilledLab, 'bench' | 'run'>;
let calibrationId: string;
let rawId: string;
let summaryId: string;
let refitId: string;

const CITATION = 'Fig lab: calibration of fig, 2026';
const FIELDS = `id state version leafCount stale refitOf { kind id label } credits { labName label version licence citation } parameters { name value standardError } remarks { code }
  points { meterReadingId ofParent used exclusionReason rwc transmittance leaf { id } } findings { code severity }`;
const versionOf = async (lab: TestLab, id: string): Promise<any> => (await lab.as('RESEARCHER').ask<any>(`query ($id: UUID!) { calibrationVersion(id: $id) { ${FIELDS} } }`, { id })).calibrationVersion;
const refit = async (more: object): Promise<any> => (await taker.as('RESEARCHER').ask<any>(
  `mutation ($input: FitCalibrationInput!) { fitCalibration(input: $input) { replayed problem { code field message remedy } calibrationVersion { ${FIELDS} } } }`,
  { input: { id: newId(), calibrationId, dryingRunIds: [], refitOf: rawId, ...more } },
)).fitCalibration;

async function shared(depth: string): Promise<string> {
  const id = newId();
  const researcher = giver.as('RESEARCHER');
  await record(researcher, 'shareCalibration', 'ShareCalibrationInput', { id, calibrationVersionId: versionId, depth, permits: 'REUSE', licence: 'CC BY 4.0', citation: CITATION });
  await record(researcher, 'grantShare', 'GrantShareInput', { id: newId(), shareId: id, audience: 'LABS', labIds: [taker.labId] });
  return id;
}

async function adopted(depth: string, into = calibrationId): Promise<string> {
  const id = newId();
  await record(taker.as('RESEARCHER'), 'adoptCalibration', 'AdoptCalibrationInput', { id: newId(), versionId: id, shareId: await shared(depth), calibrationId: into, rigId: dried.bench.rigId, reason: 'Same crop, same lamp' });
  return id;
}

beforeAll(async () => {
  server = await startTestServer();
  [giver, taker] = [await server.openLab('Fig lab'), await server.openLab('Second fig lab')];
  const given = await driedLeaves(giver);
  const givenCalibration = newId();
  versionId = newId();
  await record(giver.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: givenCalibration, label: 'Fig on rig A', cropId: given.bench.cropId });
  await record(giver.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId: givenCalibration, dryingRunIds: [given.run.dryingRunId] });
  await sign(giver.as('FIELD_ENGINEER'), 'calibration_version', versionId, 'REVIEWED');
  await sign(giver.as('MANAGER'), 'calibration_version', versionId, 'APPROVED');
  dried = await driedLeaves(taker, [0.01, -0.07, 0.05, 0.03]);
  calibrationId = newId();
  await record(taker.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig, begun with theirs', cropId: dried.bench.cropId });
  [rawId, summaryId] = [await adopted('RAW'), await adopted('SUMMARY')];
}, 180_000);

afterAll(() => server.close());

it('an adopted version is tried on own leaves before it is used', async () => {
  const study = async (calibrationVersionId: string): Promise<any> => (await record(taker.as('RESEARCHER'), 'studyTransfer', 'StudyTransferInput', {
    id: newId(), calibrationVersionId, cropId: dried.bench.cropId, dryingRunIds: [dried.run.dryingRunId], marginPoints: 12,
  }, 'transferStudy { sentence given { label leafCount } readings { verdict leafCount biasPoints } }')).transferStudy;
  const [raw, summary] = [await study(rawId), await study(summaryId)];
  expect(raw).toMatchObject({ given: { label: 'Fig, begun with theirs version 1', leafCount: 6 }, readings: { leafCount: 4 } });
  // The verdict needs no reading of theirs: a summary gives the same one.
  expect(summary.readings).toEqual(raw.readings);
  expect(summary.sentence).toBe(raw.sentence);
});

it('is refitted with own readings: a draft of one’s own with its parent, licence and citation', async () => {
  const parent = await versionOf(taker, rawId);
  const left = parent.points[3].meterReadingId;
  const { calibrationVersion: made, problem } = await refit({ dryingRunIds: [dried.run.dryingRunId], exclusions: [{ meterReadingId: left, reason: 'Their leaf was torn, they wrote' }] });
  expect(problem).toBeNull();
  refitId = made.id;
  expect(made).toMatchObject({
    state: 'DRAFT', leafCount: 10, refitOf: { kind: 'calibration_version', id: rawId, label: 'Fig, begun with theirs version 1' },
    credits: [{ labName: 'Fig lab', label: 'Fig on rig A', version: 1, licence: 'CC BY 4.0', citation: CITATION }],
  });
  expect(made.remarks.map(({ code }: any) => code)).toContain('REFIT');
  const ofParent = made.points.filter((point: any) => point.ofParent);
  expect(ofParent.length).toBe(parent.points.length);
  expect(made.points.length).toBe(parent.points.length + 4 * 7);
  expect(made.points.filter(({ used }: any) => !used)).toEqual([expect.objectContaining({ meterReadingId: left, ofParent: true, exclusionReason: 'Their leaf was torn, they wrote' })]);
  // The same line as of all these readings at once, whoever took them.
  const readings = made.points.filter(({ used }: any) => used).map(({ rwc, transmittance, leaf }: any) => ({ rwc, transmittance, leafId: leaf.id }));
  const lines = (['intercept', 'intercept-and-slope'] as const).map((leafEffect) => fitLeafLine(readings, { method: 'REML', leafEffect, responseScale: 'ln-transmittance' }));
  const line = lines[1]!.fit.convergence.converged && lines[1]!.fit.aic < lines[0]!.fit.aic ? lines[1]! : lines[0]!;
  expect(made.parameters[1].value).toBeCloseTo(line.slope, 10);
  expect(made.parameters[0].value).toBeCloseTo(line.intercept, 10);
  expect(made.parameters[1].value).not.toBeCloseTo(parent.parameters[1].value, 6);
});

it('is looked at first, with the parent’s readings among the own', async () => {
  const { calibrationStudy: { study, problem } } = await taker.as('RESEARCHER').ask<any>(
    'query ($input: CalibrationStudyInput!) { calibrationStudy(input: $input) { problem { message } study { figures { readings leaves } points { operator day order } residualsBy { by groups { key } } } } }',
    { input: { calibrationId, refitOf: rawId, dryingRunIds: [dried.run.dryingRunId] } },
  );
  expect(problem).toBeNull();
  expect(study.figures.leaves).toBe(10);
  expect(study.residualsBy.find(({ by }: any) => by === 'operator').groups.map(({ key }: any) => key).sort()).toEqual(['of Fig, begun with theirs version 1', 'technician of Second fig lab']);
  expect(study.points.map(({ order }: any) => order).sort((a: number, b: number) => a - b)).toEqual(study.points.map((_: unknown, i: number) => i + 1));
});

it('its thread leads to the parent, what was taken over, and the own readings; it is computed again as it was', async () => {
  const { thread } = await taker.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "calibration_version", id: $id, direction: DOWN) { nodes { id kind label } edges { fromId toId role } } }', { id: refitId });
  expect(thread.edges).toContainEqual(expect.objectContaining({ fromId: refitId, toId: rawId, role: 'refitted from' }));
  expect(thread.nodes.map(({ label }: any) => label)).toContain('taken over from Fig lab: Fig on rig A version 1');
  expect(thread.nodes.filter(({ kind }: any) => kind === 'rwc_series')).toHaveLength(4);
  const { recompute } = await taker.as('AUDITOR').ask<any>('query ($id: UUID!) { recompute(kind: "calibration_version", id: $id) { same steps { kind same } } }', { id: refitId });
  expect(recompute.steps.filter(({ same }: any) => !same)).toEqual([]);
  expect(recompute.same).toBe(true);
});

it('without a run of its own, it says what its parent says', async () => {
  const { calibrationVersion: made } = await refit({});
  const parent = await versionOf(taker, rawId);
  expect(made.parameters).toEqual(parent.parameters);
  expect(made.leafCount).toBe(6);
});

it('is refused where it would be no refit', async () => {
  expect((await refit({ refitOf: summaryId })).problem).toMatchObject({ code: 'STATE', field: 'refitOf', message: expect.stringContaining('only the fit is known here') });
  const olive = await otherCropDried(taker, dried.bench, 'Olive', { heights: [0.02, -0.03, 0.01] });
  const olives = newId();
  await record(taker.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: olives, label: 'Olive', cropId: olive.cropId });
  expect((await refit({ calibrationId: olives })).problem).toMatchObject({ code: 'OUT_OF_SCOPE', field: 'refitOf' });
  expect((await refit({ refitOf: refitId, dryingRunIds: [dried.run.dryingRunId] })).problem).toMatchObject({ code: 'STATE', field: 'dryingRunIds', message: expect.stringContaining('fitted to readings of these runs already') });
  expect((await refit({ exclusions: [{ meterReadingId: newId(), reason: 'Nowhere' }], dryingRunIds: [dried.run.dryingRunId] })).problem).toMatchObject({ code: 'NOT_FOUND', field: 'exclusions' });
});

it('shared on, it carries the terms of those it rests on, and none of their readings', async () => {
  await sign(taker.as('FIELD_ENGINEER'), 'calibration_version', refitId, 'REVIEWED');
  await sign(taker.as('MANAGER'), 'calibration_version', refitId, 'APPROVED');
  const share = async (depth: string): Promise<any> => (await taker.as('RESEARCHER').ask<any>(
    'mutation ($input: ShareCalibrationInput!) { shareCalibration(input: $input) { share { statement { refitOf credits { labName licence citation } } } problem { code field } } }',
    { input: { id: newId(), calibrationVersionId: refitId, depth, permits: 'REUSE', licence: 'ours', citation: 'us' } },
  )).shareCalibration;
  expect(await share('RAW')).toMatchObject({ share: null, problem: { code: 'STATE', field: 'depth' } });
  expect((await share('SUMMARY')).share.statement).toEqual({ refitOf: 'Fig, begun with theirs version 1', credits: [{ labName: 'Fig lab', licence: 'CC BY 4.0', citation: CITATION }] });
});

it('withdrawn by the giver, its refit stands on its own judgement: each use asks for a reason, and its holders are told', async () => {
  const engineer = taker.as('FIELD_ENGINEER');
  const { unitId } = await characterisedUnit(engineer);
  const lightReferenceId = await lightReference(engineer);
  const issue = async (client: Client, more: object = {}): Promise<any> => (await client.ask<any>(
    'mutation ($input: IssueCertificateInput!) { issueCertificate(input: $input) { certificate { id } problem { code message } objections { code severity } } }',
    { input: { id: newId(), deviceUnitId: unitId, calibrationVersionId: refitId, lightReferenceId, targetRwc: 0.8, targetBasis: 'Test target', validUntil: at(5_000_000), ...more } },
  )).issueCertificate;
  expect(await issue(engineer)).toMatchObject({ problem: null, certificate: { id: expect.any(String) } });
  await sign(giver.as('MANAGER'), 'calibration_version', versionId, 'WITHDRAWN', 'The lamp had aged');
  expect(await versionOf(taker, rawId)).toMatchObject({ state: 'WITHDRAWN' });
  const after = await versionOf(taker, refitId);
  expect(after.state).toBe('APPROVED');
  expect(after.findings).toContainEqual({ code: 'PARENT_WITHDRAWN', severity: 'ASK' });
  expect((await issue(engineer)).objections.map(({ code }: any) => code)).toContain('PARENT_WITHDRAWN');
  expect((await issue(engineer, { overrideReason: 'Own leaves bear it out' })).certificate).not.toBeNull();
  expect((await refit({})).problem).toMatchObject({ code: 'STATE', field: 'refitOf', message: expect.stringContaining('was withdrawn') });
  await until('whoever signed and certified by the refit is told', async () => {
    const { notices } = await engineer.ask<any>('{ notices { text } }');
    return notices.some(({ text }: any) => text.includes('Fig lab withdrew Fig on rig A version 1'));
  });
});
