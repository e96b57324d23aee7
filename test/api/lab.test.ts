import { signIn, startTestServer, PASSWORD, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let other: TestLab;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('People lab');
  other = await server.openLab('Neighbour lab');
});

afterAll(() => server.close());

const ADD = 'mutation ($input: AddMemberInput!) { addMember(input: $input) { member { email roles } problem { code field message } } }';
const SIGN_IN = 'mutation ($email: String!, $password: String!) { signIn(email: $email, password: $password) { me { email lab { name } roles } problem { code field message } } }';

describe('people', () => {
  it('are added by an administrator, with a password that is long enough', async () => {
    const input = { email: 'new@people.example', displayName: 'Wren Marlpit', roles: ['TECHNICIAN'], password: 'short' };
    const short = await lab.as('ADMINISTRATOR').ask<any>(ADD, { input });
    expect(short.addMember.problem).toMatchObject({ code: 'INPUT', field: 'password' });
    const added = await lab.as('ADMINISTRATOR').ask<any>(ADD, { input: { ...input, password: 'long enough for a leaf' } });
    expect(added.addMember).toEqual({ member: { email: 'new@people.example', roles: ['TECHNICIAN'] }, problem: null });
    const client = await signIn(server.url, 'new@people.example', 'long enough for a leaf');
    expect((await client.ask<any>('{ me { lab { name } roles } }')).me).toEqual({ lab: { name: 'People lab' }, roles: ['TECHNICIAN'] });
    expect((await lab.as('TECHNICIAN').answer(ADD, { input })).errors![0]!.extensions.code).toBe('FORBIDDEN');
  });

  it('who work in two labs move between them, and nobody else does', async () => {
    const { email } = lab.as('RESEARCHER');
    await other.as('ADMINISTRATOR').ask(ADD, { input: { email, displayName: 'x', roles: ['AUDITOR'] } });
    const client = await signIn(server.url, email, PASSWORD);
    const ENTER = 'mutation ($labId: UUID!) { enterLab(labId: $labId) { me { lab { name } roles } problem { code } } }';
    expect((await client.ask<any>(ENTER, { labId: other.labId })).enterLab.me).toEqual({ lab: { name: 'Neighbour lab' }, roles: ['AUDITOR'] });
    expect((await client.ask<any>('{ me { lab { name } } }')).me.lab.name).toBe('Neighbour lab');
    expect((await lab.as('TECHNICIAN').ask<any>(ENTER, { labId: other.labId })).enterLab.problem.code).toBe('NOT_FOUND');
  });

  it('are not told whether e-mail or password was wrong, and wait after ten failures', async () => {
    const { email } = lab.as('MANAGER');
    const attempt = async (asked: string): Promise<any> => (await server.stranger().ask<any>(SIGN_IN, { email: asked, password: 'wrong password' })).signIn;
    const unknown = await attempt('nobody@people.example');
    expect(await attempt(email)).toEqual(unknown);
    for (let i = 0; i < 9; i += 1) await attempt(email);
    expect((await attempt(email)).problem.message).toMatch(/Too many failed sign-ins/);
  });

  it('change their own password by the present one', async () => {
    const client = await signIn(server.url, lab.as('AUDITOR').email, PASSWORD);
    const CHANGE = 'mutation ($current: String!, $next: String!) { changePassword(current: $current, next: $next) { changed problem { field } } }';
    expect((await client.ask<any>(CHANGE, { current: 'not it at all', next: 'another long password' })).changePassword).toEqual({ changed: false, problem: { field: 'current' } });
    expect((await client.ask<any>(CHANGE, { current: PASSWORD, next: 'another long password' })).changePassword.changed).toBe(true);
    await expect(signIn(server.url, lab.as('AUDITOR').email, PASSWORD)).rejects.toThrow(/do not match/);
    await expect(signIn(server.url, lab.as('AUDITOR').email, 'another long password')).resolves.toBeDefined();
  });

  it('are out at once when they sign out, also by a cookie kept aside', async () => {
    const client = await signIn(server.url, lab.as('FIELD_ENGINEER').email, PASSWORD);
    expect((await client.ask<any>('{ me { email } }')).me).not.toBeNull();
    await client.ask('mutation { signOut }');
    expect((await client.ask<any>('{ me { email } }')).me).toBeNull();
  });
});

describe('the server', () => {
  it('refuses an operation too deep or too large to be a screen', async () => {
    const deep = `{ discs { nodes ${'{ leaf { discs '.repeat(9)} { id } ${'} }'.repeat(9)} } }`;
    const { errors } = await lab.as('TECHNICIAN').answer(deep);
    expect(errors).toBeDefined();
    const many = `{ ${Array.from({ length: 40 }, (_, i) => `a${i}: crops { id }`).join(' ')} }`;
    expect((await lab.as('TECHNICIAN').answer(many)).errors).toBeDefined();
  });

  it('takes no operation from a form of another site', async () => {
    const response = await fetch(`${server.url}/graphql`, { method: 'POST', headers: { 'content-type': 'text/plain' }, body: JSON.stringify({ query: '{ about { demo } }' }) });
    expect(response.status).toBe(400);
  });

  it('sends a browser no script of others and no frame', async () => {
    const response = await fetch(`${server.url}/healthz`);
    expect(response.headers.get('content-security-policy')).toContain("script-src 'self'");
    expect(response.headers.get('x-frame-options')).toBe('SAMEORIGIN');
  });
});
