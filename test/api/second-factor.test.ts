import { generate } from 'otplib';
import { runCommand } from '../../apps/cli/test/support/run-command.js';
import { withClient } from '../../apps/cli/src/database/roles.js';
import { serve } from '../../apps/api/src/main.js';
import { record } from '../support/chain.js';
import { newId, PASSWORD, signIn, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let filled: FilledLab;
let secret: string;
/** The code by which it was confirmed. */
let confirmedBy: string;
let recovery: string[];

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Two factor lab');
  filled = await fillLab(lab);
}, 180_000);

afterAll(() => server.close());

const STEP_MS = 30_000;
const manager = (): Client => lab.as('MANAGER');
/** What the authenticator shows now, or one step later. */
const shown = (stepsLater = 0, of = secret): Promise<string> => generate({ secret: of, epoch: Math.floor((Date.now() + stepsLater * STEP_MS) / 1000) });
/** As if the last code had been used long ago. */
const forgetStep = (): Promise<unknown> => withClient(server.database.ownerUrl, (client) => client.query('UPDATE second_factor SET last_step = NULL'));

const SIGN_IN = 'mutation ($email: String!, $password: String!, $code: String) { signIn(email: $email, password: $password, code: $code) { me { email secondFactor { set recoveryCodesLeft } } problem { code field message } } }';
const enter = async (code?: string | null, password = PASSWORD, email = manager().email): Promise<any> => (await server.stranger().ask<any>(SIGN_IN, { email, password, code })).signIn;
const start = async (who: Client, password = PASSWORD): Promise<any> =>
  (await who.ask<any>('mutation ($password: String!) { startSecondFactor(password: $password) { secret uri squareCode problem { code field } } }', { password })).startSecondFactor;
const confirm = async (who: Client, code: string): Promise<any> =>
  (await who.ask<any>('mutation ($code: String!) { confirmSecondFactor(code: $code) { recoveryCodes problem { code field message } } }', { code })).confirmSecondFactor;
const remove = async (who: Client, code: string, password = PASSWORD): Promise<any> =>
  (await who.ask<any>('mutation ($password: String!, $code: String!) { removeSecondFactor(password: $password, code: $code) { removed problem { code field } } }', { password, code })).removeSecondFactor;
const signing = (meaning: string, code: string | null, more: object = {}): object => ({
  id: newId(), subjectKind: 'threshold_certificate', subjectId: filled.certificateId, meaning, statement: 'Tested', password: PASSWORD, code, ...more,
});
const sign = async (input: object): Promise<any> =>
  (await manager().ask<any>('mutation ($input: SignInput!) { sign(input: $input) { signature { confirmedBy subjectHash } replayed problem { code field message } } }', { input })).sign;

describe('a second factor', () => {
  it('asks for nothing before its person has shown a code of it', async () => {
    expect((await start(manager(), 'not the password')).problem).toMatchObject({ code: 'CREDENTIALS', field: 'password' });
    const begun = await start(manager());
    expect(begun.uri).toBe(`otpauth://totp/Threadleaf:${encodeURIComponent(manager().email)}?secret=${begun.secret}&issuer=Threadleaf`);
    expect(begun.squareCode).toMatch(/^<svg /);
    expect((await enter()).me.secondFactor).toEqual({ set: false, recoveryCodesLeft: 0 });
    expect((await confirm(manager(), '000000x')).problem).toMatchObject({ code: 'SECOND_FACTOR', field: 'code' });
    // Begun again, the earlier secret is worth nothing.
    ({ secret } = await start(manager()));
    expect((await confirm(manager(), await shown(0, begun.secret))).problem.code).toBe('SECOND_FACTOR');
    confirmedBy = await shown();
    ({ recoveryCodes: recovery } = await confirm(manager(), confirmedBy));
    expect(new Set(recovery).size).toBe(10);
    expect(recovery.every((code) => /^[a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4}$/.test(code))).toBe(true);
    expect((await start(manager())).problem.code).toBe('STATE');
  });

  it('is asked for at sign-in, after the password and only of who has one; each code is good once', async () => {
    expect((await enter()).problem).toMatchObject({ code: 'SECOND_FACTOR', field: 'code' });
    expect((await enter(await shown(), 'not the password')).problem).toMatchObject({ code: 'CREDENTIALS', field: 'password' });
    // By now the authenticator may show the next one, which was not taken yet.
    expect((await enter(confirmedBy)).problem.message).toMatch(/used already/);
    const next = await shown(1);
    expect((await enter(` ${next.slice(0, 3)} ${next.slice(3)}`)).me.secondFactor).toEqual({ set: true, recoveryCodesLeft: 10 });
    expect((await enter(next)).problem.message).toMatch(/used already/);
    await forgetStep();
    expect((await enter(await shown(3))).problem.message).toMatch(/does not match/);
    expect((await enter(null, PASSWORD, lab.as('RESEARCHER').email)).me).not.toBeNull();
  });

  it('does not let one code through two doors at once', async () => {
    await forgetStep();
    const code = await shown();
    const answers = await Promise.all([enter(code), enter(code), enter(code)]);
    expect(answers.filter(({ me }) => me)).toHaveLength(1);
  });

  it('is asked for at signing, and the signature says that it was', async () => {
    await forgetStep();
    expect((await sign(signing('WITHDRAWN', null))).problem).toMatchObject({ code: 'SECOND_FACTOR', field: 'code' });
    expect((await sign(signing('WITHDRAWN', await shown(), { password: 'not the password' }))).problem).toMatchObject({ code: 'CREDENTIALS', field: 'password' });
    // A refusal for another reason spends no code.
    expect((await sign(signing('APPROVED', await shown()))).problem.code).toBe('STATE');
    const input = signing('WITHDRAWN', await shown());
    const { thresholdCertificate } = await manager().ask<any>('query ($id: UUID!) { thresholdCertificate(id: $id) { contentHash } }', { id: filled.certificateId });
    const signed = await sign(input);
    expect(signed).toMatchObject({ replayed: false, problem: null, signature: { confirmedBy: 'PASSWORD_AND_CODE', subjectHash: thresholdCertificate.contentHash } });
    // The answer was lost: the same signature sent again is the same write, though its code is used.
    expect(await sign(input)).toMatchObject({ replayed: true, problem: null });
    const { thresholdCertificate: told } = await manager().ask<any>('query ($id: UUID!) { thresholdCertificate(id: $id) { signatures { meaning confirmedBy } } }', { id: filled.certificateId });
    expect(told.signatures.map(({ confirmedBy }: any) => confirmedBy)).toEqual(['PASSWORD', 'PASSWORD', 'PASSWORD_AND_CODE']);
  });

  it('lost with the phone is stood in for by a recovery code, each once', async () => {
    const [first, second] = recovery as [string, string];
    expect((await enter(first.toUpperCase())).me.secondFactor).toEqual({ set: true, recoveryCodesLeft: 9 });
    expect((await enter(first)).problem).toMatchObject({ code: 'SECOND_FACTOR' });
    const client = await signIn(server.url, lab.as('RESEARCHER').email, PASSWORD);
    expect((await remove(client, second)).problem.code).toBe('STATE'); // another person's code opens nothing
    expect((await enter(second)).me).not.toBeNull();
  });

  it('makes who guesses codes wait', async () => {
    await forgetStep();
    for (let i = 0; i < 10; i += 1) await enter('123456');
    expect((await enter(await shown())).problem.message).toMatch(/Too many wrong codes/);
    expect((await enter(recovery[5])).problem.message).toMatch(/Too many wrong codes/);
  });
});

describe('its secrets', () => {
  it('are seen by no other account, and lie sealed and hashed', async () => {
    await withClient(server.database.appUrl, async (client) => {
      const seen = async (table: string): Promise<number> => (await client.query(`SELECT count(*)::int AS n FROM ${table}`)).rows[0].n;
      await client.query(`SELECT set_config('threadleaf.lab_id', $1, false)`, [lab.labId]);
      expect([await seen('second_factor'), await seen('recovery_code')]).toEqual([0, 0]);
      const { rows: people } = await client.query('SELECT account.id, email FROM account');
      for (const { id, email } of people) {
        await client.query(`SELECT set_config('threadleaf.account_id', $1, false)`, [id]);
        expect(await seen('second_factor')).toBe(email === manager().email ? 1 : 0);
      }
    });
    await withClient(server.database.ownerUrl, async (client) => {
      const everything = (await client.query('SELECT f::text AS row FROM second_factor f UNION ALL SELECT r::text FROM recovery_code r')).rows.map(({ row }) => row).join();
      expect(everything.length).toBeGreaterThan(500);
      for (const plain of [secret, ...recovery]) {
        for (const form of [plain, plain.replaceAll('-', '')]) {
          expect(everything).not.toContain(form);
          expect(everything).not.toContain(Buffer.from(form).toString('hex'));
        }
      }
    });
  });

  it('sealed by another key open for nobody, until the recovery code', async () => {
    const other = await serve({ databaseUrl: server.database.appUrl, port: 0, poolSize: 2, ledgerKey: Buffer.alloc(32, 7).toString('base64') });
    const keyless = await serve({ databaseUrl: server.database.appUrl, port: 0, poolSize: 2 });
    const rotated = await serve({ databaseUrl: server.database.appUrl, port: 0, poolSize: 2, ledgerKey: `${Buffer.alloc(32, 7).toString('base64')}\n${server.ledgerKey}` });
    const at = async (url: string, code: string): Promise<any> => {
      const response = await fetch(`${url}/graphql`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ query: SIGN_IN, variables: { email: manager().email, password: PASSWORD, code } }) });
      return ((await response.json()) as any).data.signIn;
    };
    try {
      await forgetStep();
      expect((await at(other.url, await shown())).problem.message).toMatch(/cannot open/);
      expect((await at(keyless.url, await shown())).problem.message).toMatch(/cannot open/);
      expect((await at(other.url, recovery[6]!)).me).not.toBeNull();
      expect((await at(rotated.url, await shown())).me).not.toBeNull();
    } finally {
      await Promise.all([other.close(), keyless.close(), rotated.close()]);
    }
  });

  it('are gone when it is removed, by password and code', async () => {
    const fresh = await startTestServer();
    const own = await fresh.openLab('Leaving lab');
    const who = own.as('AUDITOR');
    const { secret: theirs } = await start(who);
    await confirm(who, await shown(0, theirs));
    expect((await remove(who, await shown(1, theirs), 'not the password')).problem).toMatchObject({ field: 'password' });
    expect((await remove(who, '000000')).problem).toMatchObject({ code: 'SECOND_FACTOR' });
    expect(await remove(who, await shown(1, theirs))).toEqual({ removed: true, problem: null });
    await expect(signIn(fresh.url, who.email, PASSWORD)).resolves.toBeDefined();
    const left = await withClient(fresh.database.ownerUrl, (client) => client.query('SELECT (SELECT count(*) FROM second_factor)::int + (SELECT count(*) FROM recovery_code)::int AS n'));
    expect(left.rows[0].n).toBe(0);
    await fresh.close();
  });
});

describe('on the command line', () => {
  it('is asked for, taken by THREADLEAF_CODE, and removed by whoever runs the server', async () => {
    const fresh = await startTestServer();
    try {
      const own = await fresh.openLab('Commanding lab');
      const who = own.as('AUDITOR');
      const { secret: theirs } = await start(who);
      await confirm(who, await shown(0, theirs));
      const session = { THREADLEAF_URL: fresh.url, THREADLEAF_EMAIL: who.email, THREADLEAF_PASSWORD: PASSWORD };
      const recompute = (env: object) => runCommand(['recompute', '--all'], { ...session, ...env });
      expect(await recompute({})).toMatchObject({ code: 1, complained: expect.stringMatching(/authenticator/) });
      expect(await recompute({ THREADLEAF_CODE: '000000' })).toMatchObject({ code: 1, complained: expect.stringMatching(/does not match/) });
      expect(await recompute({ THREADLEAF_CODE: await shown(1, theirs) })).toMatchObject({ code: 0 });

      const remover = (email: string) => runCommand(['lab', 'remove-second-factor', '--email', email, '--database-url', fresh.database.appUrl], {});
      expect(await remover('nobody@nowhere.example')).toMatchObject({ code: 1, complained: expect.stringContaining('nothing was changed') });
      expect(await remover(who.email)).toMatchObject({ code: 0, printed: expect.stringContaining('the password alone') });
      expect(await recompute({})).toMatchObject({ code: 0 });
    } finally {
      await fresh.close();
    }
  });
});

describe('signatures without one', () => {
  it('say so, and a withdrawal needs its reason', async () => {
    const input = { id: newId(), subjectKind: 'calibration_version', subjectId: filled.versionId, meaning: 'WITHDRAWN', password: PASSWORD };
    const refused = await lab.as('RESEARCHER').ask<any>('mutation ($input: SignInput!) { sign(input: $input) { problem { code field } } }', { input });
    expect(refused.sign.problem).toEqual({ code: 'INPUT', field: 'statement' });
    const { signature } = await record(lab.as('RESEARCHER'), 'sign', 'SignInput', { ...input, statement: 'A leaf was mixed up' }, 'signature { confirmedBy }');
    expect(signature.confirmedBy).toBe('PASSWORD');
  });
});
