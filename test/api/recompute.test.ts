import pg from 'pg';
import { differences } from '../../apps/api/src/modules/recompute/differences.js';
import { tellRecomputation } from '../../apps/cli/src/commands/recompute.js';
import { record, weighing, WEIGH } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';

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
    await record(lab.as('TECHNICIAN'), WEIGH[0], WEIGH[1], weighing(filled.bench, discId, 'DRYING', 77, 40));
    expect((await recompute('decision', filled.decisionId)).same).toBe(true);
  });

  it('of a record without results says so, and of none that it is not there', async () => {
    expect(await recompute('disc', filled.run.discIds[0]!)).toMatchObject({ same: true, steps: [] });
    const { errors } = await lab.as('AUDITOR').answer('query ($id: UUID!) { recompute(kind: "decision", id: $id) { same } }', { id: newId() });
    expect(errors![0]!.extensions).toMatchObject({ problem: { code: 'NOT_FOUND' } });
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
