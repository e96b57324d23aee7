import { record, weighing, WEIGH, type Bench } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { driedLeaves, otherCropDried, sign, type CropDried } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;
let calibrationId: string;
let versionId: string;
let own: CropDried;
let researcher: Client;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab that takes over');
  researcher = lab.as('RESEARCHER');
  const dried = await driedLeaves(lab);
  bench = dried.bench;
  [calibrationId, versionId] = [newId(), newId()];
  await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig on rig A', cropId: bench.cropId });
  await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [dried.run.dryingRunId] });
  own = await otherCropDried(lab, bench, 'Quince', { heights: [-0.02, 0.01, 0.015, -0.01, 0.005], shift: 0.1 });
}, 180_000);

afterAll(() => server.close());

const FIELDS = `id stale sentence basis codeVersion crop { name } given { id label crop rig leafCount slope } remarks { code message }
  adjusted { id }
  readings { verdict marginPoints leafEffects leafCount readingCount moreLeaves biasPoints biasLow biasHigh rmsPoints insideLeaves insideShareLow insidePValue rwcFrom rwcTo
    comparison { ownSlope slopeRatio slopeRatioLow offsetPoints commonLinePValue worstPoints worstAfterOffsetPoints off { rwc points } }
    leaves { leaf { label } biasPoints promisedHalfWidthPoints inside } points { meterReadingId leaf { id label } rwc readRwc used exclusionReason } curve { rwc transmittance newLeafLow newLeafHigh marginLow marginHigh } }
  thickness { leafCount ewtTurgidUm uEwtTurgidUm givenEwtFromUm givenEwtToUm discs { disc { label } areaCm2 } curve { rwc ewtUm transmittance newLeafLow newLeafHigh newLeafHalfWidthPoints extrapolated } }`;
const STUDY = `mutation ($input: StudyTransferInput!) { studyTransfer(input: $input) { transferStudy { ${FIELDS} } replayed problem { code field message remedy } } }`;

const study = async (more: object = {}): Promise<any> =>
  (await researcher.ask<any>(STUDY, { input: { id: newId(), calibrationVersionId: versionId, cropId: own.cropId, dryingRunIds: [own.runId], marginPoints: 30, ...more } })).studyTransfer;

const recomputed = async (kind: string, id: string): Promise<any> =>
  (await lab.as('AUDITOR').ask<any>('query ($kind: String!, $id: UUID!) { recompute(kind: $kind, id: $id) { same steps { kind same differences { path then now } } } }', { kind, id })).recompute;

describe('a calibration held against own leaves', () => {
  it('tells in words and figures how far off it reads, and is kept', async () => {
    const id = newId();
    const { transferStudy: seen, problem } = await study({ id });
    expect(problem).toBeNull();
    // Ten points brighter at the same RWC reads as ten points drier, but for the heights of six leaves: 0.1/1.
    expect(seen.readings.comparison.offsetPoints).toBeCloseTo(-10 - (100 * (0.09 + 0.06 + 0.02 - 0.1 - 0.03 - 0.05)) / 6 * -1, 0);
    expect(seen.readings.biasPoints).toBeLessThan(seen.readings.biasHigh);
    expect(seen.readings.comparison.slopeRatio).toBeCloseTo(1, 1);
    expect(['HOLDS', 'HOLDS_WITH_OFFSET']).toContain(seen.readings.verdict);
    expect(seen.readings.leaves).toHaveLength(5);
    expect(seen.readings.insideLeaves).toBe(seen.readings.leaves.filter(({ inside }: any) => inside).length);
    expect(seen.remarks.map(({ code }: any) => code)).toEqual(['OTHER_CROP', 'ONE_PLANT', 'ONE_DAY']);
    expect(seen.given).toMatchObject({ id: versionId, label: 'Fig on rig A version 1', crop: 'Fig', leafCount: 6 });
    const at = seen.readings.curve[20];
    expect(at.newLeafLow).toBeLessThan(at.transmittance);
    expect(at.marginLow).toBeLessThan(at.transmittance);
    const { transferStudies } = await lab.as('AUDITOR').ask<any>('query ($v: UUID) { transferStudies(calibrationVersionId: $v) { id } }', { v: versionId });
    expect(transferStudies.map((one: any) => one.id)).toContain(id);
  });

  it('comes out the same when it is recomputed, what was left out included, and goes stale with its masses', async () => {
    const first = (await study()).transferStudy;
    const out = first.readings.points[3].meterReadingId;
    const { transferStudy } = await study({ exclusions: [{ meterReadingId: out, reason: 'Dew on the window.' }], marginPoints: 8, leafEffects: 'HEIGHT' });
    expect(transferStudy.readings.readingCount).toBe(first.readings.readingCount - 1);
    const again = await recomputed('transfer_study', transferStudy.id);
    expect(again.steps.filter(({ same }: any) => !same)).toEqual([]);
    expect(again.steps.at(-1).kind).toBe('transfer_study');
    const { thread } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "transfer_study", id: $id, direction: DOWN) { nodes { kind label summary remarks { code message } } } }', { id: transferStudy.id });
    const told = thread.nodes.find((node: any) => node.kind === 'transfer_study');
    expect(told.label).toBe('transfer study of Fig on rig A version 1 for Quince');
    expect(told.remarks.map(({ code }: any) => code)).toContain('LEFT_OUT');
    const mass = thread.nodes.find((node: any) => node.kind === 'weighing');
    expect(mass).toBeDefined();
  });

  it('does not hold for leaves whose light answers water otherwise', async () => {
    const steep = await otherCropDried(lab, bench, 'Reed', { heights: [0.004, -0.003, 0.002, -0.004], slope: -2.6 });
    const { transferStudy } = await study({ cropId: steep.cropId, dryingRunIds: [steep.runId], marginPoints: 3 });
    expect(transferStudy.readings.verdict).toBe('DOES_NOT_HOLD');
    expect(transferStudy.readings.comparison.slopeRatio).toBeCloseTo(2.6, 1);
    const refused = await researcher.ask<any>('mutation ($input: AdjustCalibrationInput!) { adjustCalibration(input: $input) { problem { code message remedy } } }', { input: { id: newId(), calibrationId, transferStudyId: transferStudy.id } });
    expect(refused.adjustCalibration.problem).toMatchObject({ code: 'STATE', message: 'The study says: does not hold.', remedy: 'Fit a version from own leaves alone.' });
  });

  it('asks for more leaves where there are too few', async () => {
    const { transferStudy } = await study({ leafIds: own.leafIds.slice(0, 2) });
    expect(transferStudy.readings).toMatchObject({ verdict: 'NOT_ENOUGH_DATA', moreLeaves: 1, comparison: null });
    expect(transferStudy.sentence).toContain('at least 1 more');
  });

  it('refuses in words: its own leaves, another lab, half a range', async () => {
    const { dryingRuns } = await researcher.ask<any>('{ dryingRuns { nodes { id label } } }');
    const first = dryingRuns.nodes.at(-1).id;
    expect((await study({ cropId: bench.cropId, dryingRunIds: [first] })).problem.message).toContain('agree with it by construction');
    expect((await study({ rwcFrom: 0.7 })).problem).toMatchObject({ code: 'INPUT', field: 'rwcTo' });
    expect((await study({ marginPoints: 0 })).problem).toMatchObject({ code: 'INPUT', field: 'marginPoints' });
    const other = await server.openLab('Lab beside that');
    const { studyTransfer } = await other.as('RESEARCHER').ask<any>(STUDY, { input: { id: newId(), calibrationVersionId: versionId, cropId: own.cropId, dryingRunIds: [own.runId], marginPoints: 5 } });
    expect(studyTransfer).toMatchObject({ transferStudy: null, problem: { code: 'NOT_FOUND' } });
    expect((await other.as('RESEARCHER').ask<any>('{ transferStudies { id } acrossCrops { crops { label } } }'))).toEqual({ transferStudies: [], acrossCrops: { crops: [] } });
  });
});

describe('an adjusted calibration', () => {
  it('is a draft with both parents, its height from own leaves, and is reviewed as any other', async () => {
    const { transferStudy } = await study();
    const [ownCalibration, adjustedId] = [newId(), newId()];
    await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: ownCalibration, label: 'Quince after fig', cropId: own.cropId });
    const { calibrationVersion } = await record(researcher, 'adjustCalibration', 'AdjustCalibrationInput', { id: adjustedId, calibrationId: ownCalibration, transferStudyId: transferStudy.id },
      'calibrationVersion { state version leafCount besideLeafCount rwcMin parameters { name value standardError } adjustedFrom { kind id label } points { beside leaf { label } residual } remarks { code } rwcAt(transmittance: 0.19) { rwc newLeafLow newLeafHigh } }');
    expect(calibrationVersion).toMatchObject({ state: 'DRAFT', version: 1, leafCount: 11, besideLeafCount: 6 });
    expect(calibrationVersion.adjustedFrom.map(({ id }: any) => id)).toEqual([transferStudy.id, versionId]);
    // Quince: ln T = ln 0.15 + 0.1 − (R − 1), the mean of its heights being zero.
    const value = (name: string): number => calibrationVersion.parameters.find((one: any) => one.name === name).value;
    expect(value('a') + value('c')).toBeCloseTo(Math.log(0.15) + 0.1, 1);
    expect(value('c')).toBeCloseTo(-1, 1);
    const ownResiduals = calibrationVersion.points.filter(({ beside }: any) => !beside).map(({ residual }: any) => residual);
    expect(Math.abs(ownResiduals.reduce((sum: number, one: number) => sum + one, 0) / ownResiduals.length)).toBeLessThan(0.005);
    expect(calibrationVersion.rwcAt.newLeafLow).toBeLessThan(calibrationVersion.rwcAt.rwc);
    const again = await recomputed('calibration_version', adjustedId);
    expect(again.steps.filter(({ same }: any) => !same)).toEqual([]);
    expect(again.steps.map(({ kind }: any) => kind)).toContain('transfer_study');
    await sign(lab.as('FIELD_ENGINEER'), 'calibration_version', adjustedId, 'REVIEWED');
    await sign(lab.as('MANAGER'), 'calibration_version', adjustedId, 'APPROVED');
    const { transferStudy: after } = await researcher.ask<any>('query ($id: UUID!) { transferStudy(id: $id) { adjusted { id state } } }', { id: transferStudy.id });
    expect(after.adjusted).toEqual([{ id: adjustedId, state: 'APPROVED' }]);
  });
});

describe('a crop that was never put in the light', () => {
  const THICKNESS = `mutation ($input: StudyWaterThicknessInput!) { studyWaterThickness(input: $input) { transferStudy { ${FIELDS} } problem { code field message } } }`;

  it('has a curve expected from turgid and dry masses and area, with its uncertainty', async () => {
    const technician = lab.as('TECHNICIAN');
    const [cropId, plantId, leafA, leafB, discA, discB] = Array.from({ length: 6 }, newId) as [string, string, string, string, string, string];
    await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Mallow' });
    await record(technician, 'recordPlant', 'RecordPlantInput', { id: plantId, cropId, label: 'M1' });
    for (const [id, label] of [[leafA, 'M1-L1'], [leafB, 'M1-L2']]) await record(technician, 'recordLeaf', 'RecordLeafInput', { id, plantId, label });
    for (const [id, leafId, turgid] of [[discA, leafA, 60], [discB, leafB, 62]] as const) {
      await record(technician, 'recordDisc', 'RecordDiscInput', { id, leafId, label: `M ${turgid}`, diameterMm: '10' });
      for (const [state, mass] of [['TURGID', turgid], ['DRY', 12]] as const) await record(technician, WEIGH[0], WEIGH[1], weighing(bench, id, state, state === 'DRY' ? 2000 : 1, mass), WEIGH[2]);
    }
    const input = { id: newId(), calibrationVersionId: versionId, cropId };
    const { studyWaterThickness: { transferStudy: seen, problem } } = await researcher.ask<any>(THICKNESS, { input });
    expect(problem).toBeNull();
    // 49 mg of water on π/4 cm²: 1 mg on 1 cm² is 10 µm.
    expect(seen.thickness.ewtTurgidUm).toBeCloseTo((10 * 49) / (Math.PI / 4), 6);
    expect(seen.thickness.curve.at(-1).newLeafHalfWidthPoints).toBeGreaterThan(5);
    // Less water than figs at the same RWC: brighter.
    const { calibrationVersion } = await researcher.ask<any>('query ($id: UUID!) { calibrationVersion(id: $id) { curve { rwc transmittance } } }', { id: versionId });
    expect(seen.thickness.curve[20].transmittance).toBeGreaterThan(calibrationVersion.curve[20].transmittance);
    expect(seen.sentence).toContain('No light was put through this crop');
    expect((await recomputed('transfer_study', input.id)).steps.filter(({ same }: any) => !same)).toEqual([]);
  });

  it('refuses without masses', async () => {
    const cropId = newId();
    await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Nothing weighed' });
    const { studyWaterThickness } = await researcher.ask<any>(THICKNESS, { input: { id: newId(), calibrationVersionId: versionId, cropId } });
    expect(studyWaterThickness.problem).toMatchObject({ code: 'STATE', field: 'cropId' });
  });
});

it('summarises over crops and says where the next may lie', async () => {
  // An adjusted version has another crop's leaves in it and does not count.
  const [reedCalibration, quinceCalibration] = [newId(), newId()];
  await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: quinceCalibration, label: 'Quince', cropId: own.cropId });
  await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: newId(), calibrationId: quinceCalibration, dryingRunIds: [own.runId] });
  const { crops } = await researcher.ask<any>('{ crops { id name } }');
  const reed = crops.find(({ name }: any) => name === 'Reed').id;
  await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: reedCalibration, label: 'Reed', cropId: reed });
  const { calibrationCandidates } = await researcher.ask<any>('query ($c: UUID!) { calibrationCandidates(cropId: $c) { id } }', { c: reed });
  await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: newId(), calibrationId: reedCalibration, dryingRunIds: calibrationCandidates.map(({ id }: any) => id) });
  const { acrossCrops } = await researcher.ask<any>('{ acrossCrops(atRwc: 0.8) { crops { label slope weight transmittance } slope { mean nextLow nextHigh tau iSquared sentence } transmittance { mean nextLow nextHigh } } }');
  expect(acrossCrops.crops.map(({ label }: any) => label)).toEqual(['Fig on rig A version 1', 'Quince version 1', 'Reed version 1']);
  expect(acrossCrops.slope.nextLow).toBeLessThan(Math.min(...acrossCrops.crops.map(({ slope }: any) => slope)));
  expect(acrossCrops.transmittance.nextLow).toBeGreaterThan(0);
  expect(acrossCrops.transmittance.nextHigh).toBeGreaterThan(acrossCrops.transmittance.mean);
});

it('goes stale with a mass that it rests on, and is then not adjusted by', async () => {
  const { transferStudy } = await study();
  const { weighings } = await researcher.ask<any>('query ($id: UUID!) { disc(id: $id) { weighings { id state } } }', { id: own.discIds[1] }).then(({ disc }) => disc);
  await record(lab.as('TECHNICIAN'), 'retract', 'RetractInput', { id: newId(), targetKind: 'weighing', targetId: weighings.find(({ state }: any) => state === 'DRYING').id, reasonCode: 'WRONG_DISC', reason: 'The neighbour was on the pan.' });
  const { transferStudy: after } = await researcher.ask<any>('query ($id: UUID!) { transferStudy(id: $id) { stale } }', { id: transferStudy.id });
  expect(after.stale).toBe(true);
  const { calibrations } = await researcher.ask<any>('query ($c: UUID) { calibrations(cropId: $c) { id } }', { c: own.cropId });
  const { adjustCalibration } = await researcher.ask<any>('mutation ($input: AdjustCalibrationInput!) { adjustCalibration(input: $input) { problem { code message } } }', { input: { id: newId(), calibrationId: calibrations[0].id, transferStudyId: transferStudy.id } });
  expect(adjustCalibration.problem).toMatchObject({ code: 'STATE', message: 'The study is stale: a fact below it was amended.' });
});
