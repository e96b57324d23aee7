import pg from 'pg';
import { differences } from '../../apps/api/src/modules/recompute/differences.js';
import { tellRecomputation } from '../../apps/cli/src/commands/recompute.js';
import { withClient } from '../../apps/cli/src/database/roles.js';
import { runCommand } from '../../apps/cli/test/support/run-command.js';
import { record, weighing, WEIGH } from '../support/chain.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';
import { jobDone } from '../support/until.js';

let server: TestServer;
let lab: TestLab;
let filled: FilledLab;
let owner: pg.Client;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Recomputing lab');
  filled = await fillLab(lab);
  owner = new pg.Client({ connectionString: server.database.ownerUrl });
  await owner.connect();
}, 180_000);

afterAll(async () => {
  await owner.end();
  await server.close();
});

const recompute = async (kind: string, id: string): Promise<any> =>
  (await lab.as('AUDITOR').ask<any>(
    'query ($kind: String!, $id: UUID!) { recompute(kind: $kind, id: $id) { same codeVersion steps { kind id label codeVersionThen same differences { path then now } } } }', { kind, id },
  )).recompute;

/** Alters rows behind the server's back, looks, and puts them back. */
async function altered<T>(sql: string, undo: string, look: () => Promise<T>): Promise<T> {
  await owner.query(`SET session_replication_role = replica; ${sql}`);
  try {
    return await look();
  } finally {
    await owner.query(`${undo}; SET session_replication_role = origin`);
  }
}

describe('recomputing a decision', () => {
  it('gives every result below it again, byte for byte', async () => {
    const found = await recompute('decision', filled.decisionId);
    expect(found.steps.filter(({ same }: any) => !same)).toEqual([]);
    expect(found.same).toBe(true);
    const count = (kind: string): number => found.steps.filter((step: any) => step.kind === kind).length;
    expect([count('rwc_series'), count('calibration_version'), count('bias_threshold_curve'), count('threshold_certificate')]).toEqual([6, 1, 1, 1]);
    // A result comes after those that it rests on.
    expect(found.steps.at(-1).kind).toBe('threshold_certificate');
    expect(found.steps.every(({ codeVersionThen }: any) => codeVersionThen === found.codeVersion)).toBe(true);
    expect(tellRecomputation(found).at(-1)).toContain('All 9 results are the same');
  });

  it('names the values that a changed mass moves, and only in the series that used it', async () => {
    const id = filled.run.weighingIds[1]![4]!;
    const { rows: [{ mass_mg: mass }] } = await owner.query('SELECT mass_mg FROM weighing WHERE id = $1', [id]);
    const found = await altered(`UPDATE weighing SET mass_mg = mass_mg + 0.4 WHERE id = '${id}'`, `UPDATE weighing SET mass_mg = ${mass} WHERE id = '${id}'`, () => recompute('decision', filled.decisionId));
    expect(found.same).toBe(false);
    const differing = found.steps.filter(({ same }: any) => !same);
    expect(differing.map(({ kind }: any) => kind)).toEqual(['rwc_series']);
    const paths = differing[0].differences.map(({ path }: any) => path);
    expect(paths).toContain('points[4].massMg');
    expect(paths).toContain('points[4].rwc');
    expect(paths).not.toContain('points[3].rwc');
    expect(tellRecomputation(found).join('\n')).toMatch(/DIFFERS RWC of D\d+-2 .*\n(.*\n)*? +points\[4\].massMg: 56.66 then, 57.06 now/);
  });

  it('names a number that was changed in any frozen document', async () => {
    for (const [table, path, kind] of [
      ['calibration_version', '{parameters,0,value}', 'calibration_version'],
      ['bias_threshold_curve', '{p0Nw}', 'bias_threshold_curve'],
      ['threshold_certificate', '{tripRwcHigh}', 'threshold_certificate'],
      ['threshold_certificate', '{operatingCharacteristic,20,pTrip}', 'threshold_certificate'],
    ]) {
      const { rows: [{ document }] } = await owner.query(`SELECT document::text AS document FROM ${table} LIMIT 1`);
      const found = await altered(
        `UPDATE ${table} SET document = jsonb_set(document, '${path}', to_jsonb((document #>> '${path}')::numeric + 1e-9))`,
        `UPDATE ${table} SET document = $json$${document}$json$::jsonb`,
        () => recompute('decision', filled.decisionId),
      );
      const own = found.steps.find((step: any) => step.kind === kind);
      const asPath = path!.slice(1, -1).split(',').map((name) => (/^\d+$/.test(name) ? `[${name}]` : `.${name}`)).join('').slice(1);
      expect(own.differences.map((one: any) => one.path)).toContain(asPath);
    }
  });

  it('still gives what was computed then, after facts were amended or added', async () => {
    const discId = filled.run.discIds[2]!;
    await record(lab.as('TECHNICIAN'), 'retract', 'RetractInput', {
      id: newId(), targetKind: 'weighing', targetId: filled.run.weighingIds[2]![3], reasonCode: 'WRONG_DISC', reason: 'The neighbour was on the pan.',
    });
    await record(lab.as('TECHNICIAN'), WEIGH[0], WEIGH[1], weighing(filled.bench, discId, 'DRYING', 77, 40, { flagAnswer: 'A piece broke off.' }));
    expect((await recompute('decision', filled.decisionId)).same).toBe(true);
  });

  it('of a record without results says so, and of none that it is not there', async () => {
    expect(await recompute('disc', filled.run.discIds[0]!)).toMatchObject({ same: true, steps: [] });
    const { errors } = await lab.as('AUDITOR').answer('query ($id: UUID!) { recompute(kind: "decision", id: $id) { same } }', { id: newId() });
    expect(errors![0]!.extensions).toMatchObject({ problem: { code: 'NOT_FOUND' } });
  });
});

describe('computing all results again', () => {
  const RUNS = '{ recomputeRuns { id endedAt startedBy { displayName } codeVersion resultCount differCount differing { kind id label differences { path } } } }';
  const runs = async (): Promise<any[]> => (await lab.as('AUDITOR').ask<any>(RUNS)).recomputeRuns;
  const runAll = async (): Promise<any> => {
    const id = newId();
    const { recomputeAll } = await lab.as('MANAGER').ask<any>('mutation ($id: UUID!) { recomputeAll(id: $id) { job { id state } problem { message } } }', { id });
    expect(recomputeAll.problem).toBeNull();
    await jobDone(lab.as('MANAGER'), id);
    return (await runs()).find((one) => one.id === id);
  };
  const notices = async (role: 'MANAGER' | 'AUDITOR' | 'TECHNICIAN'): Promise<any[]> => {
    const { notices: all } = await lab.as(role).ask<any>('{ notices { id kind text subject { kind id } } }');
    return all.filter(({ kind }: any) => kind === 'RECOMPUTE_DIFFERS');
  };

  it('finds each the same, and keeps that it did', async () => {
    const run = await runAll();
    expect(run).toMatchObject({ startedBy: { displayName: 'manager of Recomputing lab' }, differCount: 0, differing: [] });
    expect(run.resultCount).toBe(9);
    expect(await notices('MANAGER')).toEqual([]);
  });

  it('names what does not come out as it was frozen, and tells managers and auditors once', async () => {
    const change = `UPDATE rwc_series SET document = jsonb_set(document, '{points,2,rwc}', to_jsonb((document #>> '{points,2,rwc}')::numeric + 1e-9)) WHERE id = (SELECT id FROM rwc_series ORDER BY id LIMIT 1)`;
    const back = change.replace('+ 1e-9', '- 1e-9');
    await altered(change, back, async () => {
      const run = await runAll();
      expect(run.differCount).toBe(1);
      expect(run.differing[0]).toMatchObject({ kind: 'rwc_series', differences: [{ path: 'points[2].rwc' }] });
      const [told, ...more] = await notices('AUDITOR');
      expect(more).toEqual([]);
      expect(told).toMatchObject({ subject: { kind: 'rwc_series', id: run.differing[0].id } });
      expect(told.text).toMatch(/^Computed again, 1 of 9 results are not as they were frozen\. New among them: RWC of D\d+-1\. The code is the same: /);
      expect(await notices('MANAGER')).toHaveLength(1);
      expect(await notices('TECHNICIAN')).toEqual([]);
      await lab.as('AUDITOR').ask('mutation ($ids: [UUID!]!) { markNoticeSeen(ids: $ids) { marked } }', { ids: [told.id] });
      // The next night it is no news, even to who has seen it.
      expect((await runAll()).differCount).toBe(1);
      expect(await notices('AUDITOR')).toEqual([]);
    });
    expect((await runAll()).differCount).toBe(0);
    expect((await runs()).map(({ differCount }) => differCount)).toEqual([0, 1, 1, 0]);
  });

  it('by the command line waits for its end and tells it', async () => {
    const env = { THREADLEAF_URL: server.url, THREADLEAF_EMAIL: lab.as('AUDITOR').email, THREADLEAF_PASSWORD: PASSWORD };
    expect(await runCommand(['recompute', '--all'], env)).toMatchObject({ code: 0, printed: expect.stringMatching(/^All 9 results are the same, computed now by /) });
    expect(await runCommand(['recompute'], env)).toMatchObject({ code: 1, complained: expect.stringContaining('or --all') });
  });

  it('is done every night', async () => {
    const lasting = await startTestServer(undefined, true);
    const known = await withClient(lasting.database.ownerUrl, (client) => client.query('SELECT identifier FROM job_queue._private_known_crontabs'));
    expect(known.rows.map(({ identifier }) => identifier).join()).toContain('recompute-all');
    await lasting.close();
  });
});

describe('differences', () => {
  it('are told by path, for what changed, went and came', () => {
    expect(differences({ a: [{ b: 1 }, { b: 2 }], c: 'x', d: null }, { a: [{ b: 1 }, { b: 3 }], d: null, e: true })).toEqual([
      { path: 'a[1].b', then: '2', now: '3' },
      { path: 'c', then: '"x"', now: null },
      { path: 'e', then: null, now: 'true' },
    ]);
    expect(differences([1], { 0: 1 })).toHaveLength(1);
    expect(differences({ a: null }, { a: {} })).toEqual([{ path: 'a', then: 'null', now: '{}' }]);
  });
});
