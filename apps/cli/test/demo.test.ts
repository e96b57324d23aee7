import pg from 'pg';
import { startTestServer, type TestServer } from '../../../test/support/lab.js';
import { demoSignIns, ensureDemo } from '../src/demo/ensure-demo.js';

let server: TestServer;

beforeAll(async () => {
  server = await startTestServer();
});

afterAll(() => server.close());

async function count(what: string): Promise<number> {
  const client = new pg.Client({ connectionString: server.database.ownerUrl });
  await client.connect();
  const { rows } = await client.query(`SELECT count(*)::int AS n FROM ${what}`);
  await client.end();
  return rows[0].n;
}

/** Lets so many requests through, then fails as a dead server does. */
async function cutAfter(requests: number, work: () => Promise<unknown>): Promise<void> {
  const original = globalThis.fetch;
  let left = requests;
  globalThis.fetch = (...args: Parameters<typeof fetch>) => {
    left -= 1;
    return left < 0 ? Promise.reject(new TypeError('fetch failed')) : original(...args);
  };
  await work().catch(() => undefined);
  globalThis.fetch = original;
}

describe('the demo lab', () => {
  it('that was cut short is finished at the next start, and then left alone', async () => {
    await cutAfter(700, () => ensureDemo(server.served, () => undefined));
    const half = await count('weighing');
    expect(half).toBeGreaterThan(50);
    expect(await count('decision')).toBe(0);
    const said: string[] = [];
    expect(await ensureDemo(server.served, (line) => said.push(line))).toEqual({ stands: true, neighbour: true });
    expect(said).toEqual(['Finishing the demo lab ...']);
    const whole = await count('weighing');
    expect(whole).toBeGreaterThan(half);
    expect(await count('weighing WHERE raw_line = \'\'')).toBe(0);
    // What the issue asks of it: at least 12 leaves over 2 crops, 8 units, 6 installations, trips, decisions, an amendment.
    expect(await count('crop')).toBe(3);
    // Two labs that share both ways, and one took over.
    expect(await count('lab WHERE demo')).toBe(2);
    expect(await count('share_grant')).toBe(2);
    expect(await count('shared_pack')).toBe(2);
    expect(await count('calibration_adoption')).toBe(1);
    // A lamp, a filter, an absorber and a sun in each, and a leaf of each crop; a study in each.
    expect(await count('spectrum')).toBe(11);
    expect(await count('transfer_study')).toBe(2);
    expect(await count('leaf')).toBeGreaterThanOrEqual(12);
    expect(await count('device_unit')).toBeGreaterThanOrEqual(8);
    expect(await count('installation')).toBeGreaterThanOrEqual(6);
    expect(await count('amendment')).toBe(2);
    for (const table of ['trip', 'decision']) expect(await count(table)).toBeGreaterThan(0);
    expect(await ensureDemo(server.served, (line) => said.push(line))).toEqual({ stands: true, neighbour: true });
    expect(said).toHaveLength(1);
    expect(await count('weighing')).toBe(whole);
  }, 240_000);

  it('has a sign-in for each role', () => {
    expect(demoSignIns().map(({ role }) => role)).toEqual(['technician', 'researcher', 'manager', 'field engineer', 'auditor', 'administrator']);
  });
});
