import { record, weighing } from '../support/chain.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, sign, type FilledLab } from '../support/whole-chain.js';
import type { Role } from '../../apps/api/src/generated/schema.js';

let server: TestServer;
let lab: TestLab;
let filled: FilledLab;
/** A drying mass of disc 2, what amends it, and what amends that. */
let first: string;
const [second, third] = [newId(), newId()];

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Amending lab');
  filled = await fillLab(lab);
  first = filled.run.weighingIds[1]![3]!;
}, 180_000);

afterAll(() => server.close());

const noticesOf = async (role: Role): Promise<any[]> => (await lab.as(role).ask<any>('{ notices { kind text subject { kind id } } }')).notices;
const AMEND = `mutation ($input: RecordWeighingInput!, $amends: AmendsInput!) { amendWeighing(input: $input, amends: $amends) {
  amendment { id targetId replacementId reasonCode reason staleResults { kind id } } replayed problem { code field remedy } } }`;
/** What is weighed for disc 2 at minute 30 instead. */
const inPlaceOf = (id: string, targetId: string, massMg: number, reason: string): object => ({
  input: weighing(filled.bench, filled.run.discIds[1]!, 'DRYING', 30.5, massMg, { id, dryingRunId: filled.run.dryingRunId }),
  amends: { id: newId(), targetId, reasonCode: 'MISREAD', reason },
});
const amend = async (orders: object): Promise<any> => (await lab.as('TECHNICIAN').ask<any>(AMEND, orders)).amendWeighing;
const isStale = async (versionId: string): Promise<boolean> => (await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { calibrationVersion(id: $id) { stale } }', { id: versionId })).calibrationVersion.stale;

describe('an amendment', () => {
  it('keeps the original in sight, marks what rests on it stale, and tells who answers for that', async () => {
    const orders = inPlaceOf(second, first, 59.3, 'The 8 was a 3');
    const { amendment } = await amend(orders);
    expect(amendment.staleResults.map(({ kind }: any) => kind).sort()).toEqual(['calibration_version', 'rwc_series', 'threshold_certificate']);
    const { thread } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "weighing", id: $id, direction: UP) { nodes { id kind stale amendedBy { reason replacementId recordedBy { displayName } } } } }', { id: first });
    expect(thread.nodes.find(({ id }: any) => id === first).amendedBy).toEqual({ reason: 'The 8 was a 3', replacementId: second, recordedBy: { displayName: 'technician of Amending lab' } });
    expect(thread.nodes.filter((node: any) => node.stale).map(({ kind }: any) => kind).sort()).toEqual(['calibration_version', 'rwc_series', 'threshold_certificate']);

    const [manager] = await noticesOf('MANAGER');
    expect(manager).toMatchObject({ kind: 'RESULT_STALE', subject: { kind: 'weighing', id: first } });
    const [engineer] = await noticesOf('FIELD_ENGINEER');
    expect(engineer.text).toBe(
      'technician of Amending lab amended the weighing of D1-2: “The 8 was a 3”. On it rests what you made or signed: installation of U-701, certificate of U-701, calibration Fig on rig A version 1. Stale results must be computed anew and reviewed again.',
    );
    expect(await noticesOf('TECHNICIAN')).toEqual([]);
    expect(await noticesOf('AUDITOR')).toEqual([]);
    // Sent again it is the same amendment and tells nobody twice.
    expect(await amend(orders)).toMatchObject({ replayed: true, problem: null });
    expect(await noticesOf('FIELD_ENGINEER')).toHaveLength(1);
  });

  it('forbids review and approval of what is stale until it is computed anew and reviewed again', async () => {
    const draft = newId();
    // Still the stale series: a fit of them is refused.
    const refused = await lab.as('RESEARCHER').ask<any>('mutation ($input: FitCalibrationInput!) { fitCalibration(input: $input) { problem { code message } } }', { input: { id: draft, calibrationId: filled.calibrationId, dryingRunIds: [filled.run.dryingRunId] } });
    expect(refused.fitCalibration.problem).toMatchObject({ code: 'STATE', message: expect.stringContaining('The RWC of D1-2 is stale.') });
    await record(lab.as('RESEARCHER'), 'computeRwcSeries', 'ComputeRwcSeriesInput', { id: newId(), discId: filled.run.discIds[1] });
    await record(lab.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id: draft, calibrationId: filled.calibrationId, dryingRunIds: [filled.run.dryingRunId] });
    const state = async (): Promise<string> => (await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { calibrationVersion(id: $id) { state } }', { id: draft })).calibrationVersion.state;
    expect(await state()).toBe('DRAFT'); // the review of the version before does not carry over
    await sign(lab.as('FIELD_ENGINEER'), 'calibration_version', draft, 'REVIEWED');
    await sign(lab.as('MANAGER'), 'calibration_version', draft, 'APPROVED');
    expect(await state()).toBe('APPROVED');
    expect(await isStale(draft)).toBe(false);
    expect(await isStale(filled.versionId)).toBe(true);

    const refusal = await lab.as('FIELD_ENGINEER').ask<any>('mutation ($input: SignInput!) { sign(input: $input) { problem { code message } } }', {
      input: { id: newId(), subjectKind: 'threshold_certificate', subjectId: filled.certificateId, meaning: 'AUTHORED', password: PASSWORD },
    });
    expect(refusal.sign.problem).toBeNull(); // an author may still own up to what is stale
    filled = { ...filled, versionId: draft };
  });

  it('of what amends it reaches the results of the amended value in their turn', async () => {
    expect((await amend(inPlaceOf(newId(), first, 59.1, 'No, a 1'))).problem).toMatchObject({ code: 'ALREADY_AMENDED', remedy: expect.stringContaining('replacement') });
    const { amendment } = await amend(inPlaceOf(third, second, 59.1, 'No, a 1'));
    expect(amendment.staleResults.some(({ id }: any) => id === filled.versionId)).toBe(true);
    expect(await isStale(filled.versionId)).toBe(true);
    const { disc } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { disc(id: $id) { weighings { id amendedBy { replacementId } } } }', { id: filled.run.discIds[1] });
    const chain = (id: string): string | undefined => disc.weighings.find((one: any) => one.id === id)?.amendedBy?.replacementId;
    expect([chain(first), chain(second), chain(third)]).toEqual([second, third, undefined]);
    // A version that is stale and not signed cannot be reviewed.
    const unsigned = newId();
    await record(lab.as('RESEARCHER'), 'computeRwcSeries', 'ComputeRwcSeriesInput', { id: newId(), discId: filled.run.discIds[1] });
    await record(lab.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id: unsigned, calibrationId: filled.calibrationId, dryingRunIds: [filled.run.dryingRunId] });
    await record(lab.as('TECHNICIAN'), 'retract', 'RetractInput', { id: newId(), targetKind: 'weighing', targetId: third, reasonCode: 'OTHER', reason: 'The leaf was dropped before' });
    const review = await lab.as('FIELD_ENGINEER').ask<any>('mutation ($input: SignInput!) { sign(input: $input) { problem { code message } } }', {
      input: { id: newId(), subjectKind: 'calibration_version', subjectId: unsigned, meaning: 'REVIEWED', password: PASSWORD },
    });
    expect(review.sign.problem).toMatchObject({ code: 'STATE', message: expect.stringContaining('was amended') });
  });
});

describe('a retraction', () => {
  it('takes the fact out of every later computation, and is told as one', async () => {
    const seriesId = newId();
    await record(lab.as('RESEARCHER'), 'computeRwcSeries', 'ComputeRwcSeriesInput', { id: seriesId, discId: filled.run.discIds[1] });
    const { rwcSeries } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { rwcSeries(id: $id) { points { weighingId } } }', { id: seriesId });
    const used = rwcSeries.points.map((point: any) => point.weighingId);
    expect(used).toHaveLength(7);
    for (const id of [first, second, third]) expect(used).not.toContain(id);
    expect((await noticesOf('RESEARCHER')).map(({ text }) => text).filter((text) => text.includes('retracted the weighing of D1-2: “The leaf was dropped before”'))).toHaveLength(1);
  });

  it('of a result or of a signature is refused: they are computed anew, or withdrawn', async () => {
    for (const [targetKind, targetId] of [['calibration_version', filled.versionId], ['decision', filled.decisionId]]) {
      const { retract } = await lab.as('MANAGER').ask<any>('mutation ($input: RetractInput!) { retract(input: $input) { problem { code field } } }', { input: { id: newId(), targetKind, targetId, reasonCode: 'OTHER', reason: 'I would rather not' } });
      expect(retract.problem).toEqual({ code: 'INPUT', field: 'targetKind' });
    }
  });
});
