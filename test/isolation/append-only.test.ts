import pg from 'pg';
import { keptEntities } from '../../apps/api/src/entities.js';
import { dryDiscs, courseOf, furnish, type Bench } from '../support/chain.js';
import { startTestServer, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let other: TestLab;
let bench: Bench;
let app: pg.Client;
let owner: pg.Client;

const LEDGER = ['ledger_entry', 'lineage_edge', 'stale_mark', 'ledger_place', 'ledger_node', 'ledger_checkpoint', 'ledger_key'];

/** Kept beside the record they belong to: they have no entry of their own. */
const BESIDE = [...LEDGER, 'stored_bytes'];

const KEPT = [
  ...keptEntities.map(({ name }) => name.replace(/([a-z0-9])([A-Z])/g, '$1_$2').toLowerCase()),
  ...BESIDE,
];

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Kept lab');
  other = await server.openLab('Other lab');
  bench = await furnish(lab.as('MANAGER'));
  await dryDiscs(bench, lab.as('TECHNICIAN'), lab.as('MANAGER'), [bench.leafId], [courseOf()]);
  app = new pg.Client({ connectionString: server.database.appUrl });
  owner = new pg.Client({ connectionString: server.database.ownerUrl });
  await Promise.all([app.connect(), owner.connect()]);
});

afterAll(async () => {
  await Promise.all([app.end(), owner.end()]);
  await server.close();
});

const codeOf = (work: Promise<unknown>): Promise<string> => work.then(() => 'done', (error: { code: string }) => error.code);

describe('facts and results', () => {
  it('are every table that the migrations keep', async () => {
    const { rows } = await owner.query(`SELECT event_object_table AS name FROM information_schema.triggers WHERE trigger_name = 'append_only_row' GROUP BY 1`);
    expect(rows.map(({ name }) => name).sort()).toEqual([...KEPT].sort());
  });

  it.each(KEPT)('%s: the serving role may neither change nor remove rows', async (table) => {
    await app.query(`SELECT set_config('threadleaf.lab_id', $1, false)`, [lab.labId]);
    expect(await codeOf(app.query(`UPDATE ${table} SET lab_id = lab_id`))).toBe('42501');
    expect(await codeOf(app.query(`DELETE FROM ${table}`))).toBe('42501');
    expect(await codeOf(app.query(`TRUNCATE ${table} CASCADE`))).toBe('42501');
  });

  it('are refused change and removal to the owner too', async () => {
    for (const table of ['weighing', 'ledger_entry', 'lineage_edge', 'rwc_series', 'disc']) {
      const { rows } = await owner.query(`SELECT count(*)::int AS n FROM ${table}`);
      expect(rows[0].n).toBeGreaterThan(0);
      expect(await codeOf(owner.query(`UPDATE ${table} SET lab_id = lab_id`))).toBe('TL001');
      expect(await codeOf(owner.query(`DELETE FROM ${table}`))).toBe('TL001');
      expect(await codeOf(owner.query(`TRUNCATE ${table} CASCADE`))).toBe('TL001');
    }
  });

  it('have a ledger entry each, with the same hash', async () => {
    for (const table of KEPT.filter((name) => !BESIDE.includes(name))) {
      const { rows } = await owner.query(
        `SELECT count(*)::int AS n FROM ${table} r WHERE NOT EXISTS (SELECT FROM ledger_entry e
           WHERE e.lab_id = r.lab_id AND e.subject_id = r.id AND e.subject_kind = $1 AND e.content_hash = r.content_hash AND e.recorded_at = r.recorded_at)`,
        [table],
      );
      expect({ table, without: rows[0].n }).toEqual({ table, without: 0 });
    }
  });
});

describe('labs', () => {
  it.each(KEPT)('%s: a session fenced to one lab sees nothing of another, and unfenced sees nothing at all', async (table) => {
    await app.query(`SELECT set_config('threadleaf.lab_id', $1, false)`, [other.labId]);
    const theirs = await app.query(`SELECT count(*)::int AS n FROM ${table} WHERE lab_id = $1`, [lab.labId]);
    expect(theirs.rows[0].n).toBe(0);
    await app.query(`SELECT set_config('threadleaf.lab_id', '', false)`);
    const unfenced = await app.query(`SELECT count(*)::int AS n FROM ${table}`);
    expect(unfenced.rows[0].n).toBe(0);
  });

  it('cannot write into another', async () => {
    await app.query(`SELECT set_config('threadleaf.lab_id', $1, false)`, [other.labId]);
    const attempt = app.query(
      `INSERT INTO crop (lab_id, id, recorded_at, recorded_by, content_hash, name)
       SELECT $1, gen_random_uuid(), now(), account_id, '\\x00', 'Smuggled' FROM membership LIMIT 1`, [lab.labId],
    );
    expect(await codeOf(attempt)).toBe('42501');
  });

  it('get nothing of each other through the API, by any id', async () => {
    const { discs } = await lab.as('TECHNICIAN').ask<any>('{ discs { nodes { id label rwcSeries { id } } } dryingRuns { nodes { id } } }');
    const disc = discs.nodes[0];
    const seen = await other.as('MANAGER').ask<any>(
      'query ($disc: UUID!, $label: String!, $series: UUID!) { disc(id: $disc) { id } discByLabel(label: $label) { id } rwcSeries(id: $series) { id } discs { totalCount } instruments { id } ledger { nodes { subjectKind } } }',
      { disc: disc.id, label: disc.label, series: disc.rwcSeries.id },
    );
    expect(seen).toEqual({ disc: null, discByLabel: null, rwcSeries: null, discs: { totalCount: 0 }, instruments: [], ledger: { nodes: [] } });
    const { errors } = await other.as('AUDITOR').answer('query ($id: UUID!) { thread(kind: "disc", id: $id, direction: UP) { root { label } } }', { id: disc.id });
    expect(errors![0]!.extensions).toMatchObject({ code: 'PROBLEM', problem: { code: 'NOT_FOUND' } });
    const { recordDisc } = await other.as('TECHNICIAN').ask<any>('mutation ($input: RecordDiscInput!) { recordDisc(input: $input) { disc { id } problem { code field } } }', {
      input: { id: '01900000-0000-7000-8000-000000000001', leafId: bench.leafId, label: 'Foreign' },
    });
    expect(recordDisc).toEqual({ disc: null, problem: { code: 'NOT_FOUND', field: 'leafId' } });
  });
});
