import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import pg from 'pg';
import { InputError } from '#libs/quantity';
import { packageRoot } from '../config/package-root.js';
import { installQueue } from './job-queue.js';

/** Any constant: one migrator at a time on one database. */
const MIGRATION_LOCK = 4_180_001;

interface Migration {
  readonly name: string;
  readonly sql: string;
  readonly sha256: string;
}

function readMigrations(folder: string): Migration[] {
  return readdirSync(folder)
    .filter((name) => /^\d{4}_[a-z0-9_]+\.sql$/.test(name))
    .sort()
    .map((name) => {
      const sql = readFileSync(join(folder, name), 'utf8');
      return { name, sql, sha256: createHash('sha256').update(sql).digest('hex') };
    });
}

/**
 * Brings a database to the newest schema. Each migration runs in a transaction of its own; a released file that was
 * changed afterwards is refused, because databases that ran the earlier text would silently differ.
 *
 * @param ownerUrl a login that may create tables and the serving role
 * @param only  the migrations to stop at, as a backup names them: a text that is unknown here is of a newer version
 * @returns names of the migrations applied now, in order; empty when nothing was left to do
 */
export async function migrate(
  ownerUrl: string, folder = join(packageRoot, 'migrations'), only?: readonly { readonly name: string; readonly sha256: string }[],
): Promise<{ applied: string[] }> {
  const wanted = readMigrations(folder).filter(({ name }) => !only || only.some((one) => one.name === name));
  const unknown = only?.find(({ name, sha256 }) => !wanted.some((one) => one.name === name && one.sha256 === sha256));
  if (unknown) {
    throw new InputError('NEWER', 'migrations', `${unknown.name} is not known here in that form`, 'Use the Threadleaf that the data came from, or a newer one.');
  }
  const client = new pg.Client({ connectionString: ownerUrl, application_name: 'threadleaf migrate' });
  await client.connect();
  try {
    await client.query('SELECT pg_advisory_lock($1)', [MIGRATION_LOCK]);
    await client.query(`CREATE TABLE IF NOT EXISTS schema_migration (
      name text PRIMARY KEY, sha256 text NOT NULL, applied_at timestamptz NOT NULL DEFAULT now())`);
    const { rows } = await client.query<{ name: string; sha256: string }>('SELECT name, sha256 FROM schema_migration');
    const known = new Map(rows.map((row) => [row.name, row.sha256]));
    const migrations = readMigrations(folder);
    const newer = [...known.keys()].filter((name) => !migrations.some((migration) => migration.name === name));
    if (newer.length > 0) throw new Error(`The database was made by a newer Threadleaf (${newer.join(', ')}). Start that version.`);
    const applied: string[] = [];
    for (const migration of migrations) {
      const before = known.get(migration.name);
      if (before === migration.sha256) continue;
      if (before) throw new Error(`Migration ${migration.name} was changed after it was applied. Restore its text and add a new migration.`);
      await client.query('BEGIN');
      try {
        await client.query(migration.sql);
        await client.query('INSERT INTO schema_migration (name, sha256) VALUES ($1, $2)', [migration.name, migration.sha256]);
        await client.query('COMMIT');
      } catch (error) {
        await client.query('ROLLBACK');
        throw new Error(`Migration ${migration.name} failed: ${(error as Error).message}`, { cause: error });
      }
      applied.push(migration.name);
    }
    // The queue's schema is the queue library's: it brings migrations of its own, with each of its versions.
    await installQueue(client, ownerUrl);
    return { applied };
  } finally {
    await client.end();
  }
}
