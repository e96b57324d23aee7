import { withClient } from '../../apps/cli/src/database/roles.js';
import { at, record, WEIGH, weighing } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';
import { jobDone } from '../support/until.js';

let server: TestServer;
let lab: TestLab;
let stranger: TestLab;
let filled: FilledLab;
let engineer: Client;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Watched lab');
  stranger = await server.openLab('Stranger lab');
  filled = await fillLab(lab);
  engineer = lab.as('FIELD_ENGINEER');
});

afterAll(() => server.close());

async function lookOver(): Promise<{ kind: string; text: string; subject: { kind: string; id: string } }[]> {
  const id = newId();
  const { lookOverField } = await engineer.ask<any>('mutation ($id: UUID!) { lookOverField(id: $id) { problem { message } } }', { id });
  expect(lookOverField.problem).toBeNull();
  await jobDone(engineer, id);
  return notices();
}
const notices = async (): Promise<any[]> => (await engineer.ask<any>('{ notices { id kind text subject { kind id } } }')).notices.filter(({ kind }: any) => kind === 'UNITS_SILENT' || kind === 'FIELD_DISAGREES');
const seen = async (): Promise<void> => {
  await engineer.ask('mutation ($ids: [UUID!]!) { markNoticeSeen(ids: $ids) { marked } }', { ids: (await notices()).map(({ id }) => id) });
};

it('tells once of a unit that fell silent, and again only of a new silence', async () => {
  const [told, ...more] = await lookOver();
  expect(more).toEqual([]);
  expect(told).toMatchObject({ kind: 'UNITS_SILENT', subject: { kind: 'installation', id: filled.installationId } });
  expect(told!.text).toMatch(/^1 of 1 units of zone N2 was not heard of for more than 6 h: U-701\. That is not wet/);
  await seen();
  expect(await lookOver()).toEqual([]);
  const heard = { id: newId(), installationId: filled.installationId, observedAt: new Date(Date.now() - 3_600_000).toISOString(), latched: false, source: 'LOGGER' };
  await engineer.ask('mutation ($inputs: [RecordFieldReportInput!]!) { recordFieldReports(inputs: $inputs) { replayed } }', { inputs: [heard] });
  expect(await lookOver()).toEqual([]);
  await sixHoursPass();
  expect((await lookOver()).map(({ kind }) => kind)).toEqual(['UNITS_SILENT']);
  await seen();
});

/** What was heard and told lies six hours further back, as it does six hours later. */
const sixHoursPass = (): Promise<unknown> => withClient(server.database.ownerUrl, (owner) => owner.query(
  `SET session_replication_role = replica; UPDATE field_report SET observed_at = observed_at - interval '6 hours'; UPDATE notice SET told_at = told_at - interval '6 hours'`));

/** A trip in known light, and a disc of its leaf at an RWC. */
async function checkAt(minutes: number, rwc: number): Promise<void> {
  const discId = newId();
  const technician = lab.as('TECHNICIAN');
  await record(engineer, 'recordTrip', 'RecordTripInput', { id: newId(), installationId: filled.installationId, trippedAt: at(minutes), seenAt: at(minutes + 1), source: 'LOGGER', lightPowerNw: '480' });
  await record(technician, 'recordDisc', 'RecordDiscInput', { id: discId, leafId: filled.bench.leafId, label: `FC ${minutes}`, diameterMm: '10' });
  const flagAnswer = 'Looked at again.';
  for (const [state, after, massMg] of [['FRESH', 5, 12 + rwc * 58], ['TURGID', 200, 70], ['DRY', 1500, 12], ['DRY', 1600, 12]] as const) {
    await record(technician, WEIGH[0], WEIGH[1], { ...weighing(filled.bench, discId, state, minutes + after, massMg), flagAnswer }, WEIGH[2]);
  }
  await record(technician, 'recordFieldCheck', 'RecordFieldCheckInput', { id: newId(), installationId: filled.installationId, observedAt: at(minutes + 4), discIds: [discId] });
  await record(technician, 'computeRwcSeries', 'ComputeRwcSeriesInput', { id: newId(), discId });
}

it('names what field checks no longer bear out, with what to redo, and again only after another check', async () => {
  await checkAt(20_000, 0.79);
  expect(await lookOver()).toEqual([]);
  for (const minutes of [30_000, 40_000, 50_000]) await checkAt(minutes, 0.35);
  const told = await lookOver();
  expect(told.map(({ subject }) => subject.kind).sort()).toEqual(['calibration_version', 'device_lot', 'device_unit', 'light_reference']);
  const light = told.find(({ subject }) => subject.kind === 'light_reference')!;
  expect(light.text).toContain('Field checks do not bear out North block, noon: of the newest 4, only 1 of them lie in their stated 95 % interval. Measure the light reference anew');
  await seen();
  expect(await lookOver()).toEqual([]);
  await checkAt(60_000, 0.35);
  expect((await lookOver()).length).toBe(4);
  expect((await stranger.as('FIELD_ENGINEER').ask<any>('{ notices { id } }')).notices).toEqual([]);
});
