import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { migrate } from '../../api/src/main.js';
import { PASSWORD, signIn, startTestServer, type TestServer } from '../../../test/support/lab.js';
import { startEmbeddedPostgres } from '../src/database/embedded.js';
import { withClient } from '../src/database/roles.js';
import { runCommand, type Outcome } from './support/run-command.js';

let server: TestServer;
beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.close());

const NEW = { THREADLEAF_ADMIN_PASSWORD: 'first password here' };

const open = (name: string, email: string, env: Readonly<Record<string, string>>, ...options: string[]): Promise<Outcome> =>
  runCommand(['lab', 'open', '--name', name, '--admin-email', email, '--admin-name', 'Ada First', ...(options.length ? options : ['--database-url', server.database.ownerUrl])], env);

const rolesOf = async (email: string, password: string): Promise<any> => {
  const client = await signIn(server.url, email, password);
  return (await client.ask<any>('{ me { roles lab { name } labs { name } } about { demo } }'));
};

describe('threadleaf lab open', () => {
  it('opens a lab whose administrator can sign in at the running server and add people', async () => {
    expect(await open('North lab', 'ada@north.example', NEW)).toMatchObject({ code: 0, printed: expect.stringMatching(/^The lab "North lab" is open/) });
    const { me, about } = await rolesOf('ada@north.example', NEW.THREADLEAF_ADMIN_PASSWORD);
    expect(me).toMatchObject({ roles: ['ADMINISTRATOR'], lab: { name: 'North lab' } });
    expect(about.demo).toBe(false);
    const ada = await signIn(server.url, 'ada@north.example', NEW.THREADLEAF_ADMIN_PASSWORD);
    const { addMember } = await ada.ask<any>('mutation ($input: AddMemberInput!) { addMember(input: $input) { member { roles } problem { message } } }', {
      input: { email: 'tom@north.example', displayName: 'Tom', password: PASSWORD, roles: ['TECHNICIAN'] },
    });
    expect(addMember).toMatchObject({ problem: null, member: { roles: ['TECHNICIAN'] } });
  });

  it('gives a person who has an account a second lab, and leaves the password', async () => {
    expect((await open('South lab', 'ADA@north.example', {})).printed).toMatch(/with the password that account has already/);
    const { me } = await rolesOf('ada@north.example', NEW.THREADLEAF_ADMIN_PASSWORD);
    expect(me.labs.map(({ name }: any) => name)).toEqual(['North lab', 'South lab']);
  });

  it.each([
    ['a name that is taken', 'north lab', 'eve@x.example', NEW, /a lab "north lab" stands already/],
    ['a blank name', '  ', 'eve@x.example', NEW, /name/],
    ['what is no e-mail', 'East lab', 'eve', NEW, /"eve" is not an e-mail address/],
    ['a short password', 'East lab', 'eve@x.example', { THREADLEAF_ADMIN_PASSWORD: 'short' }, /has 5 characters/],
    ['no password', 'East lab', 'eve@x.example', {}, /THREADLEAF_ADMIN_PASSWORD/],
  ])('refuses %s in one line, and opens nothing', async (_, name, email, env, told) => {
    const refused = await open(name, email, env as Readonly<Record<string, string>>);
    expect(refused.code).toBe(1);
    expect(refused.complained).toMatch(told);
    expect(refused.complained.split('\n')).toHaveLength(1);
    const labs = await withClient(server.database.ownerUrl, (client) => client.query('SELECT 1 FROM lab'));
    expect(labs.rowCount).toBe(2);
  });

  it('works through the database that another program runs on the data folder', async () => {
    const dataDir = mkdtempSync(join(tmpdir(), 'threadleaf-lab-'));
    const running = await startEmbeddedPostgres({ dataDir, settings: { fsync: 'off' } });
    try {
      await migrate(running.ownerUrl);
      expect(await open('West lab', 'wes@west.example', NEW, '--data', dataDir)).toMatchObject({ code: 0, complained: '' });
      const names = await withClient(running.ownerUrl, (client) => client.query('SELECT name FROM lab'));
      expect(names.rows).toEqual([{ name: 'West lab' }]);
    } finally {
      await running.stop();
      rmSync(dataDir, { recursive: true, force: true });
    }
  });
});
