import { PASSWORD, startTestServer, type TestLab, type TestServer } from '../../../test/support/lab.js';
import { runCommand, type Outcome } from './support/run-command.js';

let server: TestServer;
let lab: TestLab;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Key lab');
});
afterAll(() => server.close());

const token = (...args: string[]): Promise<Outcome> =>
  runCommand(['token', ...args, '--url', server.url, '--email', lab.as('MANAGER').email], { THREADLEAF_PASSWORD: PASSWORD });

describe('threadleaf token', () => {
  it('makes one whose secret stands alone on stdout, works in other commands, and ends by its name', async () => {
    const made = await token('create', '--name', 'night script', '--scope', 'read', '--scope', 'bench', '--days', '7');
    expect(made.complained).toMatch(/^Token night script: bench, read, until \d{4}-\d\d-\d\d, acts for manager of Key lab\n/);
    expect(made.printed).toMatch(/^threadleaf_[\w-]{86}$/);
    expect((await token('list')).printed).toMatch(/^[0-9a-f-]{36} {2}night script: bench, read, until/);
    const checkpoint = (): Promise<Outcome> => runCommand(['touched', '0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a5c', '--from', '2026-01-01T00:00:00Z', '--to', '2026-01-02T00:00:00Z', '--url', server.url], { THREADLEAF_TOKEN: made.printed });
    expect(await checkpoint()).toMatchObject({ complained: expect.not.stringContaining('token') });
    expect((await token('revoke', 'Night script', '--reason', 'not needed')).printed).toBe('Token night script is revoked.');
    expect((await checkpoint()).complained).toMatch(/The access token is unknown, revoked or expired/);
    expect((await token('list')).printed).toMatch(/night script: bench, read, revoked \d{4}/);
  });

  it('tells what is wrong', async () => {
    expect((await token('create', '--name', 'x', '--scope', 'read', '--days', 'soon')).complained).toMatch(/--days: "soon"/);
    expect((await token('create', '--name', 'x', '--scope', 'everything')).complained).toMatch(/EVERYTHING/);
    expect((await token('revoke', 'nobody', '--reason', 'x')).complained).toMatch(/No token is called "nobody"/);
  });
});
