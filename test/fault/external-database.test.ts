import { randomBytes } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { databaseFromEnvironment, openExternalDatabase, openServedDatabase } from '../../apps/cli/src/database/external.js';
import { withClient } from '../../apps/cli/src/database/roles.js';
import { createTestDatabase, type TestDatabase } from '../support/database.js';

let database: TestDatabase;
const login = `login_${randomBytes(4).toString('hex')}`;

beforeAll(async () => {
  database = await createTestDatabase();
  await asOwner(`CREATE ROLE ${login} LOGIN PASSWORD 'p/w:1'`);
  await asOwner(`GRANT CONNECT ON DATABASE ${database.name} TO ${login}`);
});
afterAll(async () => {
  await database.drop();
});

const asOwner = (sql: string) => withClient(database.ownerUrl, (client) => client.query(sql));

const whoServes = (url: string) =>
  withClient(url, async (client) => (await client.query<{ name: string }>('SELECT current_user AS name')).rows[0]?.name);

function as(role: string, password: string): string {
  const url = new URL(database.ownerUrl);
  url.username = role;
  url.password = encodeURIComponent(password);
  return url.href;
}

test('with one connection string, requests are served by a role below it', async () => {
  const opened = await openExternalDatabase(database.ownerUrl);
  expect(opened.ownerUrl).toBe(database.ownerUrl);
  expect(await whoServes(opened.appUrl)).toBe('threadleaf_app');
});

test('with an owner beside it, the serving role signs in as itself', async () => {
  const opened = await openExternalDatabase(database.appUrl, database.ownerUrl);
  expect(opened).toEqual({ appUrl: database.appUrl, ownerUrl: database.ownerUrl });
  expect(await openServedDatabase(database.appUrl)).toEqual({ appUrl: database.appUrl, ownerUrl: undefined });
});

test('a login that may not become the serving role is refused, and serves once it may', async () => {
  const url = as(login, 'p/w:1');
  await expect(openExternalDatabase(url)).rejects.toThrow(/threadleaf_app.*may not make or use it.*DATABASE_OWNER_URL/);
  await expect(openServedDatabase(url)).rejects.toThrow(`GRANT threadleaf_app TO ${login}`);
  await asOwner(`GRANT threadleaf_app TO ${login}`);
  expect(await whoServes((await openExternalDatabase(url)).appUrl)).toBe('threadleaf_app');
  expect(await openServedDatabase(url)).toEqual({ appUrl: url, ownerUrl: undefined });
  await asOwner(`REVOKE CONNECT ON DATABASE ${database.name} FROM ${login}; REVOKE threadleaf_app FROM ${login}; DROP ROLE ${login}`);
});

describe('a password kept in a file', () => {
  let folder: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'threadleaf-fault-'));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  test('completes the connection string', () => {
    const file = join(folder, 'password');
    writeFileSync(file, 'p/w:1%\n');
    const env = { DATABASE_URL: 'postgresql://someone@db/x', DATABASE_PASSWORD_FILE: file };
    expect(databaseFromEnvironment(env)).toEqual({ appUrl: 'postgresql://someone:p%2Fw%3A1%25@db/x', ownerUrl: undefined });
  });

  test('that cannot be read is named', () => {
    const env = { DATABASE_OWNER_URL: 'postgresql://someone@db/x', DATABASE_OWNER_PASSWORD_FILE: join(folder, 'none') };
    expect(() => databaseFromEnvironment(env)).toThrow(/DATABASE_OWNER_PASSWORD_FILE.*none, cannot be read \(ENOENT\)/);
  });
});
