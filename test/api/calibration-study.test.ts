import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { record } from '../support/chain.js';
import { driedLeaves, type FilledLab } from '../support/whole-chain.js';
import { jobDone } from '../support/until.js';

let server: TestServer;
let lab: TestLab;
let dried: Pick<FilledLab, 'bench' | 'plantId' | 'run'>;
let calibrationId: string;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab that builds');
  dried = await driedLeaves(lab);
  calibrationId = newId();
  await record(lab.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig on rig A', cropId: dried.bench.cropId });
});

afterAll(() => server.close());

const STUDY = `query ($input: CalibrationStudyInput!) { calibrationStudy(input: $input) { problem { code field message } study {
  atRwc tooNarrowTimes finding weighingPoints leafEffects lackOfFitReason durbinWatson
  figures { readings leaves slope intercept parameters { name value standardError } rwcAtTarget naiveHalfWidthPoints meanHalfWidthPoints newLeafHalfWidthPoints toleranceHalfWidthPoints betweenLeavesPoints withinLeavesPoints }
  withAll { readings newLeafHalfWidthPoints rwcAtTarget }
  points { meterReadingId leaf rwc transmittance day operator order used within around flags }
  curve { rwc transmittance mean newLeaf tolerance } readBack { transmittance rwc mean newLeaf tolerance }
  leaves { leaf readings ownPoints shrunkPoints reliability } residualsBy { by pValue groups { key count meanPoints } }
  advice { betweenLeavesShare readingShare meanLineShare moreLeaves { extraLeaves halfWidthPoints } moreReadings { extraReadingsPerLeaf halfWidthPoints } byLeaves { extraLeaves } sentence } } } }`;

const study = async (more: object = {}): Promise<any> =>
  (await lab.as('RESEARCHER').ask<any>(STUDY, { input: { calibrationId, dryingRunIds: [dried.run.dryingRunId], ...more } })).calibrationStudy;

it('tells what the frozen version then holds, and what the naive interval hides', async () => {
  const { study: seen, problem } = await study({ atRwc: 0.8 });
  expect(problem).toBeNull();
  const versionId = newId();
  await record(lab.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [dried.run.dryingRunId] });
  const T = seen.readBack[12].transmittance;
  const { calibrationVersion } = await lab.as('RESEARCHER').ask<any>(
    'query ($id: UUID!, $t: Float!) { calibrationVersion(id: $id) { parameters { name value } leafCount rwcAt(transmittance: $t) { rwc meanLow newLeafLow newLeafHigh } } }', { id: versionId, t: T },
  );
  expect(seen.figures.slope).toBe(calibrationVersion.parameters.find(({ name }: { name: string }) => name === 'c').value);
  expect(seen.figures.leaves).toBe(calibrationVersion.leafCount);
  expect(seen.readBack[12]).toMatchObject({ rwc: calibrationVersion.rwcAt.rwc, newLeaf: [calibrationVersion.rwcAt.newLeafLow, calibrationVersion.rwcAt.newLeafHigh] });
  expect(seen.tooNarrowTimes).toBeGreaterThan(2);
  expect(seen.finding).toContain('times too narrow');
  const { figures } = seen;
  expect(figures.naiveHalfWidthPoints).toBeLessThan(figures.meanHalfWidthPoints);
  expect(figures.meanHalfWidthPoints).toBeLessThan(figures.newLeafHalfWidthPoints);
  expect(figures.newLeafHalfWidthPoints).toBeLessThan(figures.toleranceHalfWidthPoints);
  const { advice } = seen;
  expect(advice.betweenLeavesShare + advice.readingShare + advice.meanLineShare).toBeCloseTo(1, 10);
  expect(advice.betweenLeavesShare).toBeGreaterThan(0.5);
  expect(seen.points.every(({ operator }: { operator: string }) => operator.startsWith('technician'))).toBe(true);
  for (const { ownPoints, shrunkPoints } of seen.leaves) expect(Math.abs(shrunkPoints)).toBeLessThanOrEqual(Math.abs(ownPoints) + 1e-9);
});

it('shows with and without what is left out, before a reason is given', async () => {
  const { study: whole } = await study();
  const [first] = whole.points;
  const { study: without } = await study({ exclusions: [{ meterReadingId: first.meterReadingId, reason: '' }] });
  expect(without.figures.readings).toBe(whole.figures.readings - 1);
  expect(without.withAll.readings).toBe(whole.figures.readings);
  expect(without.points.find(({ meterReadingId }: { meterReadingId: string }) => meterReadingId === first.meterReadingId)).toMatchObject({ used: false, within: null });
});

it('plans for a wish, and says so where no number of leaves reaches it', async () => {
  const { study: reached } = await study({ wantedHalfWidthPoints: 60 });
  expect(reached.advice.byLeaves.extraLeaves).toBe(0);
  const { study: never } = await study({ wantedHalfWidthPoints: 0.5 });
  expect(never.advice.byLeaves).toBeNull();
  expect(never.advice.sentence).toContain('No number of leaves reaches');
});

it('narrows the runs by what is known of them', async () => {
  const { candidateChoices } = await lab.as('AUDITOR').ask<any>('query ($c: UUID!) { candidateChoices(cropId: $c) { cultivars growthStages rigs { id bandCentreNm } } }', { c: dried.bench.cropId });
  const runs = async (filter: object): Promise<number> =>
    (await lab.as('AUDITOR').ask<any>('query ($c: UUID!, $f: CandidateFilterInput) { calibrationCandidates(cropId: $c, filter: $f) { id } }', { c: dried.bench.cropId, f: filter })).calibrationCandidates.length;
  const [rig] = candidateChoices.rigs;
  expect(await runs({ rigId: rig.id, bandNm: Number(rig.bandCentreNm) })).toBe(1);
  expect(await runs({ bandNm: Number(rig.bandCentreNm) + 500 })).toBe(0);
  expect(await runs({ cultivar: 'No such cultivar' })).toBe(0);
  expect(await runs({ openedFrom: '2100-01-01T00:00:00Z' })).toBe(0);
});

it.each(['EXPONENTIAL', 'POWER'])('tells of %s what it tells of a line, as the frozen version then holds it', async (family) => {
  const { study: seen, problem } = await study({ family, atRwc: 0.8, wantedHalfWidthPoints: 60 });
  expect(problem).toBeNull();
  const versionId = newId();
  await record(lab.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, family, dryingRunIds: [dried.run.dryingRunId] });
  const { calibrationVersion } = await lab.as('RESEARCHER').ask<any>(
    'query ($id: UUID!, $t: Float!) { calibrationVersion(id: $id) { parameters { name value standardError } leafCount betweenLeafSdRwc remarks { code } rwcAt(transmittance: $t) { rwc meanLow meanHigh newLeafLow newLeafHigh problem { message } } } }',
    { id: versionId, t: seen.readBack[12].transmittance },
  );
  const { figures } = seen;
  expect(figures.intercept).toBeNull();
  expect(figures.parameters).toEqual(calibrationVersion.parameters);
  expect(figures.leaves).toBe(calibrationVersion.leafCount);
  expect(seen.leafEffects).toBe('HEIGHT');
  const { rwcAt } = calibrationVersion;
  expect(rwcAt.problem).toBeNull();
  expect(seen.readBack[12]).toMatchObject({ rwc: rwcAt.rwc, mean: [rwcAt.meanLow, rwcAt.meanHigh], newLeaf: [rwcAt.newLeafLow, rwcAt.newLeafHigh] });
  expect(calibrationVersion.remarks.map(({ code }: any) => code)).not.toContain('NAIVE_MEAN_BAND');
  expect(figures.naiveHalfWidthPoints).toBeLessThan(figures.meanHalfWidthPoints);
  expect(figures.meanHalfWidthPoints).toBeLessThan(figures.newLeafHalfWidthPoints);
  expect(figures.newLeafHalfWidthPoints).toBeLessThan(figures.toleranceHalfWidthPoints);
  expect(seen.finding).toContain('times too narrow');
  const { betweenLeavesShare, readingShare, meanLineShare, byLeaves } = seen.advice;
  expect(betweenLeavesShare + readingShare + meanLineShare).toBeCloseTo(1, 10);
  expect(byLeaves.extraLeaves).toBe(0);
  for (const { ownPoints, shrunkPoints } of seen.leaves) expect(Math.abs(shrunkPoints)).toBeLessThanOrEqual(Math.abs(ownPoints) + 1e-9);
});

it('refuses in words: another lab, a structure that a family does not offer, one that is not frozen', async () => {
  expect((await study({ family: 'EXPONENTIAL', leafEffects: 'HEIGHT_AND_SLOPE' })).problem).toMatchObject({ code: 'INPUT', field: 'leafEffects', message: expect.stringContaining('exponential') });
  // Readings that fall along one bend do not tell two.
  expect((await study({ family: 'LOGISTIC' })).problem).toMatchObject({ code: 'INPUT', field: 'family', message: expect.stringContaining('no rest') });
  expect((await study({ leafIds: [dried.bench.leafId] })).problem).toMatchObject({ code: 'INPUT', field: 'dryingRunIds' });
  const other = await server.openLab('Lab beside');
  const { calibrationStudy } = await other.as('RESEARCHER').ask<any>(STUDY, { input: { calibrationId, dryingRunIds: [dried.run.dryingRunId] } });
  expect(calibrationStudy).toMatchObject({ study: null, problem: { code: 'NOT_FOUND' } });
  const { fitCalibration } = await lab.as('RESEARCHER').ask<any>('mutation ($input: FitCalibrationInput!) { fitCalibration(input: $input) { problem { code field } } }', {
    input: { id: newId(), calibrationId, dryingRunIds: [dried.run.dryingRunId], leafEffects: 'HEIGHT_AND_SLOPE_APART' },
  });
  expect(fitCalibration.problem).toMatchObject({ code: 'INPUT', field: 'leafEffects' });
});

it('compares families and leaf effects as a job', async () => {
  const id = newId();
  const { compareCalibrations } = await lab.as('RESEARCHER').ask<any>(
    'mutation ($id: UUID!, $input: CalibrationStudyInput!) { compareCalibrations(id: $id, input: $input) { job { id state } problem { message } } }',
    { id, input: { calibrationId, dryingRunIds: [dried.run.dryingRunId] } },
  );
  expect(compareCalibrations.problem).toBeNull();
  const job = await jobDone(lab.as('RESEARCHER'), id);
  expect(job).toMatchObject({ state: 'DONE', error: null });
  const { rows, influence } = job.outcome;
  expect(Math.min(...rows.map(({ deltaAicc }: any) => deltaAicc ?? Infinity))).toBe(0);
  const rowOf = (what: string): any => rows.find((row: any) => row.what === what);
  // Leaves that differ in height by several points: pooling all readings has far less support.
  expect(rowOf('log-linear, all readings alike').deltaAicc).toBeGreaterThan(20);
  // Every family stands with leaf effects, and each of these has more support than the same family with all readings alike.
  for (const family of ['linear', 'exponential', 'power']) expect(rowOf(`${family}, leaves differ in height`).deltaAicc).toBeLessThan(rowOf(`${family}, all readings alike`).deltaAicc);
  expect(influence).toHaveLength(6);
});
