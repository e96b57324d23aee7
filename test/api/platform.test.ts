import { furnish } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { until } from '../support/until.js';
import pg from 'pg';

let server: TestServer;
let lab: TestLab;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Platform lab');
  await furnish(lab.as('MANAGER'));
});

afterAll(() => server.close());

async function idleInTransaction(): Promise<number> {
  const client = new pg.Client({ connectionString: server.database.ownerUrl });
  await client.connect();
  const { rows } = await client.query(`SELECT count(*)::int AS n FROM pg_stat_activity WHERE datname = current_database() AND state LIKE 'idle in transaction%'`);
  await client.end();
  return rows[0].n;
}

describe('a request', () => {
  it('gives its connection back, whatever it read, wrote or failed at', async () => {
    for (let round = 0; round < 12; round += 1) {
      await lab.as('AUDITOR').ask('{ crops { name recordedBy { displayName } } instruments { label checkStatus } discs { totalCount nodes { label } } }');
      await lab.as('AUDITOR').answer('{ thread(kind: "no such kind", id: "00000000-0000-7000-8000-000000000000", direction: DOWN) { root { label } } crops { recordedBy { displayName } } }');
      await lab.as('MANAGER').ask('mutation ($input: RecordCropInput!) { recordCrop(input: $input) { crop { recordedBy { displayName } } } }', { input: { id: newId(), name: `Crop ${round}` } });
    }
    // The ledger goes on behind requests, in transactions of its own; a connection that was kept never comes back.
    await until('no connection is kept', async () => (await idleInTransaction()) === 0);
  });

  it('that fails in an expected way says what to do, and shows nothing of the server', async () => {
    const { errors } = await lab.as('AUDITOR').answer('{ thread(kind: "no such kind", id: "00000000-0000-7000-8000-000000000000", direction: DOWN) { root { label } } }');
    expect(errors![0]).toMatchObject({ extensions: { code: 'PROBLEM', problem: { code: 'NOT_FOUND', field: 'kind' } } });
    expect(JSON.stringify(errors)).not.toMatch(/stacktrace|node_modules|\.ts:/);
  });
});
