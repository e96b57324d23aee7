import pg from 'pg';
import { record } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, longitudeByDay, sign, type FilledLab } from '../support/whole-chain.js';

/**
 * A write bears the moment at which its transaction began. One that is under way while an advice is frozen bears an earlier
 * moment than the advice, which yet cannot know it: the advice must follow again from what it looked at, not from the clock.
 */
let server: TestServer;
let lab: TestLab;
let filled: FilledLab;
let engineer: Client;
let writing: pg.Client;
let owner: pg.Client;

const ago = (minutes: number): string => new Date(Date.now() - minutes * 60_000).toISOString();

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab with writes under way');
  filled = await fillLab(lab);
  engineer = lab.as('FIELD_ENGINEER');
  const ruleId = newId();
  await record(engineer, 'recordZoneRule', 'RecordZoneRuleInput', {
    id: ruleId, zone: 'N2', latitude: '48.2', longitude: longitudeByDay(), needed: 1, windows: 1, hoursAroundNoon: '12', maxAgeHours: '48', silentAfterHours: '6', minHealthy: 1, lockoutHours: '24', rainHoldMm: '5', rainHoldHours: '24', basis: 'Invented.',
  });
  await sign(lab.as('RESEARCHER'), 'zone_rule', ruleId, 'REVIEWED');
  await sign(lab.as('MANAGER'), 'zone_rule', ruleId, 'APPROVED');
  writing = new pg.Client({ connectionString: server.database.appUrl });
  owner = new pg.Client({ connectionString: server.database.ownerUrl });
  await writing.connect();
  await owner.connect();
});

afterAll(async () => {
  await writing.end();
  await owner.end();
  await server.close();
});

const advise = async (): Promise<{ id: string; advice: string; tripped: boolean }> => {
  const id = newId();
  const { zoneAdvice } = await record(engineer, 'adviseZone', 'AdviseZoneInput', { id, zone: 'N2' }, 'zoneAdvice { standing { advice units { tripped } } }');
  return { id, advice: zoneAdvice.standing.advice, tripped: zoneAdvice.standing.units[0].tripped };
};

const again = async (id: string): Promise<any> => {
  const { recompute } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { recompute(kind: "zone_advice", id: $id) { steps { kind same differences { path } } } }', { id });
  return recompute.steps.find(({ kind }: any) => kind === 'zone_advice');
};

it('a trip under way while the advice is frozen changes nothing of it, and the next advice knows it', async () => {
  await record(engineer, 'recordLatchReset', 'RecordLatchResetInput', { id: newId(), installationId: filled.installationId, observedAt: ago(60), opened: true });
  const { account } = (await owner.query<{ account: string }>('SELECT recorded_by AS account FROM installation WHERE lab_id = $1', [lab.labId])).rows[0]!;
  await writing.query(`BEGIN; SET LOCAL threadleaf.lab_id = '${lab.labId}'; SET LOCAL threadleaf.account_id = '${account}'`);
  await writing.query('SELECT now()');
  const before = await advise();
  expect(before).toMatchObject({ advice: 'NONE', tripped: false });
  await writing.query(
    `INSERT INTO trip (lab_id, id, recorded_at, recorded_by, content_hash, installation_id, tripped_at, tripped_offset_min, seen_at, seen_offset_min, source)
     VALUES ($1, $2, now(), $3, '\\x00', $4, $5, 0, $5, 0, 'LOGGER')`, [lab.labId, newId(), account, filled.installationId, ago(30)],
  );
  await writing.query('COMMIT');
  const { earlier } = (await owner.query<{ earlier: boolean }>('SELECT (SELECT max(recorded_at) FROM trip WHERE lab_id = $1) < (SELECT made_for FROM zone_advice WHERE lab_id = $1 AND id = $2) AS earlier', [lab.labId, before.id])).rows[0]!;
  expect(earlier).toBe(true);
  expect(await again(before.id)).toMatchObject({ same: true, differences: [] });
  const next = await advise();
  expect(next).toMatchObject({ advice: 'IRRIGATE', tripped: true });
  expect(await again(next.id)).toMatchObject({ same: true });
});

it('follows again from what it looked at through trips, openings and reports of a whole history', async () => {
  const reports = [[400, false], [390, true], [380, true], [370, false], [300, false], [20, true]].map(([minutes, latched]) => ({ id: newId(), installationId: filled.installationId, observedAt: ago(minutes as number), latched, source: 'LOGGER' }));
  await engineer.ask('mutation ($inputs: [RecordFieldReportInput!]!) { recordFieldReports(inputs: $inputs) { replayed } }', { inputs: reports });
  const { id, tripped } = await advise();
  expect(tripped).toBe(true);
  expect(await again(id)).toMatchObject({ same: true, differences: [] });
});
