import { copyFileSync, mkdtempSync, readdirSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DataSource } from 'typeorm';
import { entities, keptEntities } from '../../apps/api/src/entities.js';
import { describers } from '../../apps/api/src/modules/thread/describers.js';
import { migrate } from '../../apps/api/src/platform/database/migrate.js';
import { SnakeNaming } from '../../apps/api/src/platform/database/naming.js';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { createTestDatabase, type TestDatabase } from '../support/database.js';

const migrationsFolder = join(packageRoot, 'migrations');
let database: TestDatabase;

beforeAll(async () => {
  database = await createTestDatabase();
});

afterAll(() => database.drop());

async function drift(extra: readonly (new () => object)[] = []): Promise<string[]> {
  const source = new DataSource({ type: 'postgres', url: database.ownerUrl, entities: [...entities, ...extra] as never[], namingStrategy: new SnakeNaming() });
  await source.initialize();
  try {
    const { upQueries } = await source.driver.createSchemaBuilder().log();
    // Keys, checks and indexes live in the reviewed SQL alone; entities tell columns, types and absence.
    return upQueries.map(({ query }) => query).filter((query) => !/DROP (CONSTRAINT|INDEX)/.test(query));
  } finally {
    await source.destroy();
  }
}

describe('migrations', () => {
  it('and entities tell the same columns', async () => {
    expect(await drift()).toEqual([]);
  });

  it('would show a column that only the entity has', async () => {
    const source = new DataSource({ type: 'postgres', url: database.ownerUrl, entities: entities as never[], namingStrategy: new SnakeNaming() });
    await source.initialize();
    await source.query('ALTER TABLE crop DROP COLUMN scientific_name');
    await source.destroy();
    expect((await drift()).join()).toContain('scientific_name');
  });

  it('are applied once, and refused when a released one was changed', async () => {
    const fresh = await createTestDatabase();
    expect(await migrate(fresh.ownerUrl)).toEqual({ applied: [] });
    const folder = mkdtempSync(join(tmpdir(), 'threadleaf-migrations-'));
    for (const name of readdirSync(migrationsFolder)) copyFileSync(join(migrationsFolder, name), join(folder, name));
    writeFileSync(join(folder, '0001_house.sql'), 'SELECT 1');
    await expect(migrate(fresh.ownerUrl, folder)).rejects.toThrow(/0001_house.sql was changed after it was applied/);
    await fresh.drop();
  });

  it('of a newer program are left alone', async () => {
    await expect(migrate(database.ownerUrl, mkdtempSync(join(tmpdir(), 'threadleaf-migrations-')))).rejects.toThrow(/made by a newer Threadleaf \(0001_house.sql/);
  });

  it('leave nothing behind when one fails', async () => {
    const fresh = await createTestDatabase();
    const folder = mkdtempSync(join(tmpdir(), 'threadleaf-migrations-'));
    for (const name of readdirSync(migrationsFolder)) copyFileSync(join(migrationsFolder, name), join(folder, name));
    writeFileSync(join(folder, '0900_half.sql'), 'CREATE TABLE half (id int); SELECT no_such_function();');
    await expect(migrate(fresh.ownerUrl, folder)).rejects.toThrow(/0900_half.sql failed/);
    writeFileSync(join(folder, '0900_half.sql'), 'CREATE TABLE half (id int);');
    expect(await migrate(fresh.ownerUrl, folder)).toEqual({ applied: ['0900_half.sql'] });
    await fresh.drop();
  });
});

describe('the Thread', () => {
  it('can tell a record of every kind', () => {
    const kinds = keptEntities.map(({ name }) => name.replace(/([a-z0-9])([A-Z])/g, '$1_$2').toLowerCase());
    expect(Object.keys(describers).sort()).toEqual(kinds.sort());
  });
});
