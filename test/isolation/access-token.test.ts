import { createClient } from 'graphql-ws';
import pg from 'pg';
import WebSocket from 'ws';
import { buildSchema } from 'graphql';
import { enforcePolicies } from '../../apps/api/src/platform/identity/policy.js';
import { checkDatabase } from '../../apps/api/src/main.js';
import { at, furnish, record, type Bench } from '../support/chain.js';
import { listeners } from '../support/listeners.js';
import { until } from '../support/until.js';
import { newId, PASSWORD, ROLES, signIn, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let other: TestLab;
let bench: Bench;
let discId: string;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Token lab');
  other = await server.openLab('Next door');
  bench = await furnish(lab.as('MANAGER'));
  await furnish(other.as('MANAGER'), ' next door');
  discId = newId();
  await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id: discId, leafId: bench.leafId, label: 'T-1' });
});

afterAll(() => server.close());

const CREATE = `mutation ($input: CreateAccessTokenInput!) { createAccessToken(input: $input) {
  secret replayed accessToken { id label scopes stands recordedBy { displayName } } problem { code field message remedy } } }`;
const REVOKE = 'mutation ($input: RevokeAccessTokenInput!) { revokeAccessToken(input: $input) { accessToken { stands revokedBy { displayName } } problem { code field } } }';
const inDays = (days: number): string => new Date(Date.now() + days * 86_400_000).toISOString();

async function create(maker: Client, scopes: readonly string[], more: object = {}): Promise<any> {
  const id = newId();
  return (await maker.ask<any>(CREATE, { input: { id, label: `token ${id}`, scopes, expiresAt: inDays(30), password: PASSWORD, ...more } })).createAccessToken;
}

async function made(maker: Client, scopes: readonly string[], more: object = {}): Promise<{ id: string; secret: string; label: string }> {
  const { secret, accessToken, problem } = await create(maker, scopes, more);
  if (problem) throw new Error(problem.message);
  return { secret, ...accessToken };
}

/** What the API answers to somebody who has nothing but this header. */
async function by(authorization: string, query: string, variables: object = {}, cookie = ''): Promise<any> {
  const response = await fetch(`${server.url}/graphql`, {
    method: 'POST', headers: { 'content-type': 'application/json', authorization, ...(cookie && { cookie }) }, body: JSON.stringify({ query, variables }),
  });
  return response.json();
}

const codeOf = async (answer: Promise<any>): Promise<string> => (await answer).errors?.[0]?.extensions?.code ?? 'answered';

const WEIGH = 'mutation ($input: RecordWeighingInput!) { recordWeighing(input: $input) { weighing { id } problem { code message } } }';
const weighing = (): object => ({
  id: newId(), discId, state: 'TURGID', observedAt: at(0), massText: '70.12', massUnit: 'mg', balanceId: bench.balanceId, entryMode: 'LINE', rawLine: 'ST,+  70.12 mg',
});

describe('an access token', () => {
  it('does what its scope holds and nothing else', async () => {
    const { secret } = await made(lab.as('TECHNICIAN'), ['BENCH']);
    const written = await by(`Bearer ${secret}`, WEIGH, { input: weighing() });
    expect(written.data.recordWeighing.problem).toBeNull();
    expect(await codeOf(by(`Bearer ${secret}`, '{ deviceUnits { nodes { id } } }'))).toBe('FORBIDDEN');
    expect(await codeOf(by(`Bearer ${secret}`, '{ me { email } }'))).toBe('FORBIDDEN');
    const { secret: reading } = await made(lab.as('RESEARCHER'), ['READ']);
    expect((await by(`bearer ${reading}`, '{ discs { totalCount } }')).data.discs.totalCount).toBe(1);
    expect(await codeOf(by(`Bearer ${reading}`, WEIGH, { input: weighing() }))).toBe('FORBIDDEN');
  });

  it('of every scope together neither signs, nor administers, nor makes or ends tokens', async () => {
    const { secret } = await made(lab.as('MANAGER'), ['READ', 'LISTEN', 'BENCH', 'DEVICE', 'FIELD', 'CALIBRATION']);
    const closed = [
      [CREATE, { input: { id: newId(), label: 'x', scopes: ['READ'], expiresAt: inDays(1), password: PASSWORD } }],
      [REVOKE, { input: { id: newId(), accessTokenId: newId(), reason: 'x' } }],
      ['mutation ($input: SignInput!) { sign(input: $input) { problem { code } } }', { input: { id: newId(), subjectKind: 'calibration_version', subjectId: newId(), meaning: 'APPROVED', password: PASSWORD } }],
      ['mutation { signOut }', {}],
      ['mutation { changePassword(current: "a", next: "b") { changed } }', {}],
      ['mutation ($input: AddMemberInput!) { addMember(input: $input) { problem { code } } }', { input: { email: 'a@b.example', displayName: 'x', roles: ['ADMINISTRATOR'] } }],
      ['mutation ($id: UUID!) { enterLab(labId: $id) { problem { code } } }', { id: other.labId }],
      ['{ accessTokens { id } }', {}],
    ] as const;
    for (const [query, variables] of closed) expect([query, await codeOf(by(`Bearer ${secret}`, query, variables))]).toEqual([query, 'FORBIDDEN']);
  });

  it('sends and fetches files within its scopes only', async () => {
    const { secret } = await made(lab.as('TECHNICIAN'), ['BENCH']);
    const { secret: reading } = await made(lab.as('MANAGER'), ['READ']);
    const { secret: listening } = await made(lab.as('MANAGER'), ['LISTEN']);
    const id = newId();
    const send = (bearer: string): Promise<Response> => fetch(`${server.url}/files?id=${id}&name=note.txt&purpose=DOCUMENT&type=text/plain`, {
      method: 'POST', headers: { authorization: `Bearer ${bearer}`, 'content-type': 'application/octet-stream', 'x-threadleaf': '1' }, body: 'x',
    });
    for (const bearer of [reading, listening]) expect((await send(bearer)).status).toBe(403);
    expect((await send('garbage')).status).toBe(401);
    expect((await send(secret)).status).toBe(201);
    const fetched = (bearer: string): Promise<number> => fetch(`${server.url}/files/${id}`, { headers: { authorization: `Bearer ${bearer}` } }).then(({ status }) => status);
    expect(await Promise.all([fetched(listening), fetched('garbage')])).toEqual([403, 401]);
    expect(await fetched(reading)).toBe(200);
  });

  it('stays attributable in ledger, proof and Thread', async () => {
    const { secret, label, id: tokenId } = await made(lab.as('TECHNICIAN'), ['BENCH'], { label: 'bench computer 2' });
    const input = weighing() as { id: string };
    await by(`Bearer ${secret}`, WEIGH, { input });
    const told = await lab.as('AUDITOR').ask<any>(`query ($id: UUID!) {
      ledger(subjectId: $id) { nodes { person { displayName } throughToken } }
      thread(kind: "weighing", id: $id, direction: DOWN) { root { recordedBy { displayName } throughToken } } }`, { id: input.id });
    const person = { displayName: 'technician of Token lab' };
    expect(told).toEqual({ ledger: { nodes: [{ person, throughToken: label }] }, thread: { root: { recordedBy: person, throughToken: label } } });
    await server.served.settleLedger(lab.labId);
    const { inclusionProof } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { inclusionProof(subjectId: $id) { leaf } }', { id: input.id });
    expect(JSON.parse(inclusionProof.leaf)).toMatchObject({ version: 2, tokenId });
    const [check] = await checkDatabase(server.database.appUrl);
    expect(check!.flaws).toEqual([]);
  });

  it('keeps its secret nowhere but in its hash', async () => {
    const { secret } = await made(lab.as('RESEARCHER'), ['READ'], { label: 'hidden' });
    const owner = new pg.Client({ connectionString: server.database.ownerUrl });
    await owner.connect();
    const { rows } = await owner.query(`SELECT row_to_json(t)::text AS text FROM access_token t WHERE label = 'hidden'`);
    await owner.end();
    expect(rows[0].text).not.toContain(secret.slice(-43));
    const { accessTokens } = await lab.as('ADMINISTRATOR').ask<any>('{ accessTokens { label recordedBy { displayName } } }');
    expect(accessTokens.map(({ label }: any) => label)).toContain('hidden');
    const own = await lab.as('TECHNICIAN').ask<any>('{ accessTokens { recordedBy { displayName } } }');
    expect(new Set(own.accessTokens.map((token: any) => token.recordedBy.displayName))).toEqual(new Set(['technician of Token lab']));
  });

  it('reaches no other lab, and is unknown there with its lab exchanged', async () => {
    const { secret } = await made(lab.as('RESEARCHER'), ['READ']);
    const theirs = await other.as('MANAGER').ask<any>('{ plants { nodes { id label } } }');
    const seen = await by(`Bearer ${secret}`, '{ plants { nodes { id } } instruments { label } }');
    expect(JSON.stringify(seen)).not.toContain(theirs.plants.nodes[0].id);
    expect(JSON.stringify(seen)).not.toContain('next door');
    const bytes = Buffer.from(secret.slice('threadleaf_'.length), 'base64url');
    Buffer.from(other.labId.replaceAll('-', ''), 'hex').copy(bytes);
    expect(await codeOf(by(`Bearer threadleaf_${bytes.toString('base64url')}`, '{ discs { totalCount } }'))).toBe('UNAUTHENTICATED');
    expect((await other.as('ADMINISTRATOR').ask<any>('{ accessTokens { id } }')).accessTokens).toEqual([]);
    const { revokeAccessToken } = await other.as('ADMINISTRATOR').ask<any>(REVOKE, { input: { id: newId(), accessTokenId: (await made(lab.as('RESEARCHER'), ['READ'])).id, reason: 'x' } });
    expect(revokeAccessToken.problem).toEqual({ code: 'NOT_FOUND', field: 'accessTokenId' });
  });

  it('that is garbage is refused, also for what anybody may ask, and beside a good cookie', async () => {
    const { secret } = await made(lab.as('RESEARCHER'), ['READ']);
    const flipped = secret.slice(0, -2) + (secret.endsWith('AA') ? 'BB' : 'AA');
    const signed = await fetch(`${server.url}/graphql`, {
      method: 'POST', headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ query: 'mutation ($email: String!, $password: String!) { signIn(email: $email, password: $password) { me { email } } }', variables: { email: lab.as('MANAGER').email, password: PASSWORD } }),
    });
    const cookie = signed.headers.getSetCookie()[0]!.split(';')[0]!;
    for (const garbage of ['', 'x', 'threadleaf_', `threadleaf_${'A'.repeat(86)}`, flipped, `${secret}A`, "' OR true --", '\u00e9'.repeat(40), 'A'.repeat(7_000)]) {
      const header = `Bearer ${garbage}`;
      expect([garbage, await codeOf(by(header, '{ about { demo } }')), await codeOf(by(header, '{ discs { totalCount } }', {}, cookie))]).toEqual([garbage, 'UNAUTHENTICATED', 'UNAUTHENTICATED']);
    }
    // A proxy's own sign-in in front of the server is none of ours.
    expect((await by('Basic dXNlcjpwYXNz', '{ me { email } }', {}, cookie)).data.me.email).toBe(lab.as('MANAGER').email);
  });

  it('is dead at once when it is revoked, and within seconds in another process', async () => {
    const { id, secret } = await made(lab.as('TECHNICIAN'), ['BENCH']);
    expect(await codeOf(by(`Bearer ${secret}`, '{ discs { totalCount } }'))).toBe('answered');
    const { revokeAccessToken } = await lab.as('ADMINISTRATOR').ask<any>(REVOKE, { input: { id: newId(), accessTokenId: id, reason: 'computer sold' } });
    expect(revokeAccessToken).toEqual({ accessToken: { stands: false, revokedBy: { displayName: 'administrator of Token lab' } }, problem: null });
    expect(await codeOf(by(`Bearer ${secret}`, '{ discs { totalCount } }'))).toBe('UNAUTHENTICATED');
    const again = await lab.as('ADMINISTRATOR').ask<any>(REVOKE, { input: { id: newId(), accessTokenId: id, reason: 'again' } });
    expect(again.revokeAccessToken.problem).toEqual({ code: 'STATE', field: 'accessTokenId' });
  });

  it('dies by its date, to the second', async () => {
    const asked = (secret: string): Promise<string> => codeOf(by(`Bearer ${secret}`, '{ discs { totalCount } }'));
    // Long enough to be used once before it dies, however slow the machine is.
    for (let livesMs = 1_500; ; livesMs *= 2) {
      const diesAt = Date.now() + livesMs;
      const { secret } = await create(lab.as('TECHNICIAN'), ['BENCH'], { expiresAt: new Date(diesAt).toISOString() });
      const alive = secret && await asked(secret);
      if (Date.now() >= diesAt) continue;
      expect(alive).toBe('answered');
      await new Promise((resolve) => { setTimeout(resolve, diesAt + 200 - Date.now()); });
      expect(await asked(secret)).toBe('UNAUTHENTICATED');
      return;
    }
  });

  it('tells news over a web socket until it is revoked, and none afterwards', async () => {
    const { id, secret } = await made(lab.as('RESEARCHER'), ['READ']);
    const news: string[] = [];
    let ended = false;
    const listening = listeners('records');
    const socket = createClient({ url: server.url.replace('http', 'ws') + '/graphql', webSocketImpl: WebSocket, connectionParams: { authorization: `Bearer ${secret}` }, retryAttempts: 0 });
    socket.subscribe({ query: 'subscription { recorded { id } }' }, {
      next: ({ data, errors }: any) => news.push(errors ? errors[0].extensions.code : data.recorded.id), error: () => { ended = true; }, complete: () => { ended = true; },
    });
    const write = async (discId = newId()): Promise<string> => {
      await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id: discId, leafId: bench.leafId, label: `N-${discId}` });
      return discId;
    };
    await listening();
    const told = await write();
    await until('the news came', () => news.includes(told));
    await lab.as('ADMINISTRATOR').ask<any>(REVOKE, { input: { id: newId(), accessTokenId: id, reason: 'enough' } });
    const heard = news.length;
    await write();
    await until('the subscription ended', () => ended);
    expect({ ended, more: news.slice(heard) }).toEqual({ ended: true, more: [] });
    await socket.dispose();
  });

  it('has no more power than its maker has now', async () => {
    const ADD = 'mutation ($input: AddMemberInput!) { addMember(input: $input) { problem { code } } }';
    await lab.as('ADMINISTRATOR').ask(ADD, { input: { email: 'leaver@token.example', displayName: 'Leaver', roles: ['TECHNICIAN'], password: PASSWORD } });
    const leaver = await signIn(server.url, 'leaver@token.example', PASSWORD);
    const { secret } = await made(leaver, ['BENCH']);
    const owner = new pg.Client({ connectionString: server.database.ownerUrl });
    await owner.connect();
    await owner.query(`DELETE FROM membership WHERE account_id = (SELECT id FROM account WHERE email = 'leaver@token.example')`);
    await owner.end();
    expect(await codeOf(by(`Bearer ${secret}`, '{ discs { totalCount } }'))).toBe('UNAUTHENTICATED');
  });
});

describe('making one', () => {
  it('asks for a role that the scope is for, whoever asks', async () => {
    const allowed: Record<string, readonly string[]> = {
      READ: ['RESEARCHER', 'MANAGER', 'AUDITOR', 'FIELD_ENGINEER'], BENCH: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'], FIELD: ['RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'],
    };
    for (const [scope, roles] of Object.entries(allowed)) {
      for (const role of ROLES) {
        const { problem } = await create(lab.as(role), [scope]);
        expect([scope, role, problem?.field ?? 'made']).toEqual([scope, role, roles.includes(role) ? 'made' : 'scopes']);
      }
    }
  });

  it.each([
    [{ password: 'not the password' }, 'CREDENTIALS', 'password'],
    [{ label: ' ' }, 'INPUT', 'label'],
    [{ scopes: [] }, 'INPUT', 'scopes'],
    [{ expiresAt: inDays(-1) }, 'INPUT', 'expiresAt'],
    [{ expiresAt: inDays(401) }, 'INPUT', 'expiresAt'],
    [{ expiresAt: 'tomorrow' }, 'INPUT', 'expiresAt'],
  ])('refuses %j', async (more, code, field) => {
    expect((await create(lab.as('MANAGER'), ['BENCH'], more)).problem).toMatchObject({ code, field });
  });

  it('shows the secret once: sent again it is the same token, without it', async () => {
    const input = { id: newId(), label: 'once', scopes: ['BENCH'], expiresAt: inDays(3), password: PASSWORD };
    const first = await lab.as('MANAGER').ask<any>(CREATE, { input });
    const second = await lab.as('MANAGER').ask<any>(CREATE, { input });
    expect(first.createAccessToken).toMatchObject({ replayed: false, secret: expect.stringMatching(/^threadleaf_/) });
    expect(second.createAccessToken).toMatchObject({ replayed: true, secret: null });
    expect(await codeOf(by(`Bearer ${first.createAccessToken.secret}`, '{ tokenInUse { label } }'))).toBe('answered');
  });

  it('is refused a name that stands', async () => {
    expect((await create(lab.as('MANAGER'), ['BENCH'], { label: 'ONCE' })).problem).toMatchObject({ code: 'INPUT', field: 'label' });
  });
});

describe('a token scope', () => {
  it('for a field that does not exist, or one that lets a reader write, stops the start', () => {
    const schema = (): ReturnType<typeof buildSchema> => buildSchema('type Query { a: Int } type Mutation { b: Int }');
    const policies = { 'Query.a': 'member', 'Mutation.b': 'member' } as const;
    expect(() => enforcePolicies(schema(), policies, { 'Query.gone': ['READ'] })).toThrow('Query.gone');
    expect(() => enforcePolicies(schema(), policies, { 'Mutation.b': ['READ'] })).toThrow('Mutation.b writes');
    expect(() => enforcePolicies(schema(), policies, { 'Query.a': ['READ'], 'POST /files': ['BENCH'] })).not.toThrow();
  });
});
