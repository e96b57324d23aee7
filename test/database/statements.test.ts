import { AppModule } from '../../apps/api/src/app.module.js';
import { entities } from '../../apps/api/src/entities.js';
import { Announcer } from '../../apps/api/src/platform/database/announcer.js';
import { Database } from '../../apps/api/src/platform/database/database.js';
import { enforcePolicies } from '../../apps/api/src/platform/identity/policy.js';
import { buildSchema } from 'graphql';
import { NestFactory } from '@nestjs/core';
import { courseOf, dryDiscs, furnish, record, weighing, type Bench } from '../support/chain.js';
import { newId, signIn, startTestServer, PASSWORD, type Client, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Counted lab');
  bench = await furnish(lab.as('MANAGER'));
  await dryDiscs(bench, lab.as('TECHNICIAN'), lab.as('MANAGER'), [bench.leafId], [courseOf()]);
});

afterAll(() => server.close());

/** Counts what the server sends to PostgreSQL while it answers, by a server of its own on the same database. */
async function counted(): Promise<{ client: Client; statements: string[]; close: () => Promise<void> }> {
  const statements: string[] = [];
  const database = await Database.open(server.database.appUrl, entities, 4);
  database.dataSource.setOptions({ logging: ['query'], logger: { logQuery: (sql: string) => statements.push(sql), logQueryError() {}, logQuerySlow() {}, logSchemaBuild() {}, logMigration() {}, log() {} } });
  const announcer = new Announcer(server.database.appUrl);
  const app = await NestFactory.create(AppModule.of(database, announcer), { logger: false });
  await app.listen(0, '127.0.0.1');
  const { port } = app.getHttpServer().address() as { port: number };
  const client = await signIn(`http://127.0.0.1:${port}`, lab.as('TECHNICIAN').email, PASSWORD);
  return { client, statements, close: async () => { await app.close(); await database.close(); } };
}

const PAGES: readonly [string, string][] = [
  ['discs', '{ discs(first: 100) { totalCount nodes { label recordedBy { displayName } leaf { label plant { label crop { name } } } rwcSeries { stale } weighings { massMg balance { label } balanceStatusThen amendedBy { reason } recordedBy { displayName } } } } }'],
  ['plants', '{ plants(first: 100) { nodes { label crop { name } leaves { label discs { label } } } } }'],
];

describe('a list page', () => {
  it.each(PAGES)('of %s takes the same number of statements for one row and for fifty', async (_name, query) => {
    const { client, statements, close } = await counted();
    const once = async (): Promise<number> => {
      // Who asks is looked up anew every few seconds: let it not fall among the statements that are counted.
      await client.ask('{ me { email } }');
      const before = statements.length;
      await client.ask(query);
      return statements.length - before;
    };
    // What the server does by itself meanwhile only adds: the least of three is the page's own.
    const measure = async (): Promise<number> => Math.min(await once(), await once(), await once());
    try {
      const few = await measure();
      expect(few).toBeGreaterThan(3);
      await fill(50);
      expect(await measure()).toBe(few);
    } finally {
      // A server left open keeps the whole run from ending.
      await close();
    }
  });
});

async function fill(count: number): Promise<void> {
  for (let i = 0; i < count; i += 1) {
    const [plantId, leafId, discId] = [newId(), newId(), newId()];
    await record(lab.as('TECHNICIAN'), 'recordPlant', 'RecordPlantInput', { id: plantId, cropId: bench.cropId, label: `P-${plantId}` });
    await record(lab.as('TECHNICIAN'), 'recordLeaf', 'RecordLeafInput', { id: leafId, plantId, label: `L-${leafId}` });
    await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id: discId, leafId, label: `D-${discId}` });
    await record(lab.as('TECHNICIAN'), 'recordWeighing', 'RecordWeighingInput', weighing(bench, discId, 'TURGID', 0, 70));
  }
}

describe('a root field', () => {
  it('without a policy stops the start, and so does a policy without a field', () => {
    const schema = (): ReturnType<typeof buildSchema> => buildSchema('type Query { guarded: Int forgotten: Int }');
    expect(() => enforcePolicies(schema(), { 'Query.guarded': 'member' })).toThrow('Query.forgotten has no policy');
    expect(() => enforcePolicies(schema(), { 'Query.guarded': 'member', 'Query.forgotten': 'member', 'Query.gone': 'member' })).toThrow('Query.gone');
  });
});
