import { randomBytes } from 'node:crypto';
import { closeDatabase, withClient } from '../../apps/cli/src/database/roles.js';

const TEMPLATE = 'threadleaf_template';

export interface TestDatabase {
  /** The role that owns the schema. */
  readonly ownerUrl: string;
  /** The role that serves requests: row-level security and grants hold it, as in production. */
  readonly appUrl: string;
  readonly name: string;
  /** Ends all its connections and removes it. */
  drop(): Promise<void>;
}

/**
 * A migrated, empty database for one test file, copied from the template of this Jest run.
 *
 *     const database = await createTestDatabase();   // in beforeAll
 *     await database.drop();                         // in afterAll
 */
export async function createTestDatabase(): Promise<TestDatabase> {
  const { ownerUrl, appUrl } = serverOfThisRun();
  const name = `test_${process.env['JEST_WORKER_ID'] ?? 0}_${randomBytes(6).toString('hex')}`;
  await withClient(ownerUrl, async (client) => {
    await client.query(`CREATE DATABASE ${name} TEMPLATE ${TEMPLATE}`);
    // Rights on the database itself are not copied with it.
    await closeDatabase(client, name);
  });
  return {
    ownerUrl: inDatabase(ownerUrl, name),
    appUrl: inDatabase(appUrl, name),
    name,
    drop: () => withClient(ownerUrl, async (client) => void (await client.query(`DROP DATABASE ${name} WITH (FORCE)`))),
  };
}

/** The PostgreSQL of this Jest run, made by postgres-setup.mjs. */
export function serverOfThisRun(): { readonly ownerUrl: string; readonly appUrl: string } {
  const found = process.env['THREADLEAF_TEST_DATABASE'];
  if (!found) throw new Error('No PostgreSQL was started for this Jest project: give it the globalSetup of the server project.');
  return JSON.parse(found) as { ownerUrl: string; appUrl: string };
}

function inDatabase(url: string, name: string): string {
  const changed = new URL(url);
  changed.pathname = `/${name}`;
  return changed.href;
}
