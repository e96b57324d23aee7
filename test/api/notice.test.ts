import { record } from '../support/chain.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';
import type { Role } from '../../apps/api/src/generated/schema.js';

let server: TestServer;
let lab: TestLab;
let other: TestLab;
let filled: FilledLab;

beforeAll(async () => {
  server = await startTestServer();
  [lab, other] = [await server.openLab('Notice lab'), await server.openLab('Other notice lab')];
  filled = await fillLab(lab);
});

afterAll(() => server.close());

const NOTICES = 'query ($seen: Boolean) { notices(seen: $seen) { id kind text subject { kind id label } toldAt seenAt } }';
const noticesOf = async (role: Role, seen = false): Promise<any[]> => (await lab.as(role).ask<any>(NOTICES, { seen })).notices;
const mark = async (role: Role, ids: readonly string[]): Promise<number> =>
  (await lab.as(role).ask<any>('mutation ($ids: [UUID!]!) { markNoticeSeen(ids: $ids) { marked } }', { ids })).markNoticeSeen.marked;

describe('a withdrawn approval', () => {
  it('is told to whoever holds something that rests on it, once each, and not to who withdrew it', async () => {
    const id = newId();
    const withdrawal = { id, subjectKind: 'calibration_version', subjectId: filled.versionId, meaning: 'WITHDRAWN', statement: 'The lamp was drifting', password: PASSWORD };
    await record(lab.as('MANAGER'), 'sign', 'SignInput', withdrawal);
    expect((await record(lab.as('MANAGER'), 'sign', 'SignInput', withdrawal)).replayed).toBe(true);

    const engineer = await noticesOf('FIELD_ENGINEER');
    expect(engineer.map(({ kind, subject }) => [kind, subject.kind, subject.id]).sort()).toEqual([
      ['APPROVAL_WITHDRAWN', 'calibration_version', filled.versionId], // reviewed it
      ['APPROVAL_WITHDRAWN', 'installation', filled.installationId], // installed the unit
      ['APPROVAL_WITHDRAWN', 'threshold_certificate', filled.certificateId], // issued it
    ]);
    expect(engineer.find(({ subject }) => subject.kind === 'installation').text).toBe(
      'manager of Notice lab withdrew the calibration Fig on rig A version 1: “The lamp was drifting”. The installation of U-701 that you made or signed rests on it.',
    );
    const researcher = await noticesOf('RESEARCHER');
    expect(researcher.map(({ subject }) => subject.kind).sort()).toEqual(['calibration_version', 'threshold_certificate']);
    expect(await noticesOf('MANAGER')).toEqual([]);
    expect(await noticesOf('TECHNICIAN')).toEqual([]);
  });

  it('goes away when its person has seen it, and can be read again', async () => {
    const [first, ...others] = await noticesOf('FIELD_ENGINEER');
    expect(await mark('RESEARCHER', [first.id])).toBe(0);
    expect(await mark('FIELD_ENGINEER', [first.id, first.id])).toBe(1);
    expect(await mark('FIELD_ENGINEER', [first.id])).toBe(0);
    expect((await noticesOf('FIELD_ENGINEER')).map(({ id }) => id)).toEqual(others.map(({ id }) => id));
    const seen = await noticesOf('FIELD_ENGINEER', true);
    expect(seen).toEqual([{ ...first, seenAt: expect.any(String) }]);
  });
});

describe('notices', () => {
  it('stay inside the lab and with their person, for the database too', async () => {
    expect((await other.as('FIELD_ENGINEER').ask<any>(NOTICES)).notices).toEqual([]);
    const { withClient } = await import('../../apps/cli/src/database/roles.js');
    await withClient(server.database.appUrl, async (client) => {
      const unfenced = await client.query('SELECT count(*)::int AS n FROM notice');
      expect(unfenced.rows[0].n).toBe(0);
      await client.query(`SELECT set_config('threadleaf.lab_id', $1, false)`, [other.labId]);
      expect((await client.query('SELECT count(*)::int AS n FROM notice')).rows[0].n).toBe(0);
      await client.query(`SELECT set_config('threadleaf.lab_id', $1, false)`, [lab.labId]);
      expect((await client.query('SELECT count(*)::int AS n FROM notice')).rows[0].n).toBeGreaterThan(3);
      expect((await client.query('UPDATE notice SET seen_at = now()')).rowCount).toBe(0);
      await expect(client.query(`UPDATE notice SET text = 'Nothing happened.'`)).rejects.toMatchObject({ code: '42501' });
      await expect(client.query('DELETE FROM notice')).rejects.toMatchObject({ code: '42501' });
    });
  });
});
