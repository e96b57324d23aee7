import pg from 'pg';
import { v7 } from 'uuid';
import { entities } from '../../apps/api/src/entities.js';
import { IN_CHECK, standingsAt } from '../../apps/api/src/modules/instrument/instrument.repository.js';
import { Database } from '../../apps/api/src/platform/database/database.js';
import { record, WEIGH, weighing, type Bench } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let bench: Bench;
let discId: string;
/** What was planted, by exception. */
const planted: Record<string, string[]> = {};
const ids: Record<string, string> = {};

const ago = (minutes: number): string => new Date(Date.now() - minutes * 60_000).toISOString();

async function instrument(label: string, check: { minutesAgo: number; shown: string } | null, checkEveryHours = 24): Promise<string> {
  const id = newId();
  await record(lab.as('MANAGER'), 'registerInstrument', 'RegisterInstrumentInput', { id, kind: 'BALANCE', label, resolution: '0.01', repeatability: '0.02', unit: 'mg', checkEveryHours });
  if (check) await record(lab.as('MANAGER'), 'recordInstrumentCheck', 'RecordInstrumentCheckInput', { id: newId(), instrumentId: id, observedAt: ago(check.minutesAgo), nominal: '100', shown: check.shown, tolerance: '0.05' });
  return id;
}

/** A turgid weighing a minute ago on a balance in check, but for what is planted. */
async function weigh({ id = newId(), ...more }: { id?: string; [name: string]: unknown } = {}): Promise<string> {
  const input = { ...weighing(bench, discId, 'TURGID', 0, 70), id, observedAt: ago(1), ...more };
  await record(lab.as('TECHNICIAN'), WEIGH[0], WEIGH[1], input);
  return input.id;
}

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Watched lab');
  const [cropId, plantId, leafId] = [newId(), newId(), newId()];
  await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Fig' });
  await record(lab.as('TECHNICIAN'), 'recordPlant', 'RecordPlantInput', { id: plantId, cropId, label: 'F1' });
  await record(lab.as('TECHNICIAN'), 'recordLeaf', 'RecordLeafInput', { id: leafId, plantId, label: 'F1-L1' });
  discId = newId();
  await record(lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id: discId, leafId, label: 'D1', diameterMm: '10' });
  bench = { cropId, leafId, balanceId: await instrument('In check', { minutesAgo: 30, shown: '100.01' }), meterId: '', ovenId: '', rigId: '' };
  const overdue = await instrument('Overdue', { minutesAgo: 180, shown: '100' }, 1);
  const failed = await instrument('Failed', { minutesAgo: 30, shown: '101' });
  const unchecked = await instrument('Unchecked', null);
  ids['clean'] = await weigh();
  planted['TYPED'] = [await weigh({ entryMode: 'TYPED' })];
  planted['SIMULATED'] = [await weigh({ entryMode: 'SIMULATED', observedAt: ago(20) })];
  planted['LATE'] = [await weigh({ observedAt: ago(29) })];
  planted['INSTRUMENT'] = [await weigh({ balanceId: overdue }), await weigh({ balanceId: failed }), await weigh({ balanceId: unchecked })];
  planted['CLOCK'] = [await weigh({ id: v7({ msecs: Date.now() + 600_000 }) })];
  ids['retracted'] = await weigh();
  await record(lab.as('TECHNICIAN'), 'retract', 'RetractInput', { id: newId(), targetKind: 'weighing', targetId: ids['retracted'], reasonCode: 'MISREAD', reason: 'Wrong disc on the pan.' });
  planted['AMENDED'] = [ids['retracted']];
  planted['ANSWERED'] = [await weigh({ state: 'DRYING', massText: '90.00', rawLine: '90.00', flagAnswer: 'Weighed twice, it is so.' })];
  await signByTheSameHand();
});

afterAll(() => server.close());

/** What the service refuses, written by who owns the database. */
async function signByTheSameHand(): Promise<void> {
  const owner = new pg.Client({ connectionString: server.database.ownerUrl });
  await owner.connect();
  // In one transaction, so that both have the same moment: paging must tell them apart by something else.
  await owner.query('BEGIN');
  const [{ id: person }] = (await owner.query("SELECT id FROM account WHERE email LIKE 'manager@%' LIMIT 1")).rows as [{ id: string }];
  const subject = newId();
  planted['SAME_HAND'] = [];
  for (const meaning of ['REVIEWED', 'APPROVED']) {
    const id = newId();
    planted['SAME_HAND'].push(id);
    await owner.query(
      `INSERT INTO signature (lab_id, id, recorded_at, recorded_by, content_hash, subject_kind, subject_id, subject_hash, meaning)
       VALUES ($1, $2, now(), $3, decode(repeat('00', 32), 'hex'), 'calibration_version', $4, '00', $5)`, [lab.labId, id, person, subject, meaning]);
    await owner.query(
      `INSERT INTO ledger_entry (lab_id, id, recorded_at, recorded_by, action, subject_kind, subject_id, content_hash)
       SELECT lab_id, gen_random_uuid(), recorded_at, recorded_by, lower(meaning), 'signature', id, content_hash FROM signature WHERE lab_id = $1 AND id = $2`, [lab.labId, id]);
  }
  await owner.query('COMMIT');
  await owner.end();
}

const FILTER = '$exception: LedgerException, $lateAfterMin: Int, $kind: String, $person: UUID, $id: UUID, $action: String, $from: Moment, $until: Moment, $after: UUID, $first: Int';
const PASSED = 'exception: $exception, lateAfterMin: $lateAfterMin, subjectKind: $kind, personId: $person, id: $id, action: $action, from: $from, until: $until, after: $after, first: $first';

async function page(variables: object): Promise<any> {
  return (await lab.as('AUDITOR').ask<any>(
    `query (${FILTER}) { ledger(${PASSED}) { nodes { id subjectId subjectKind action label summary recordedAt person { id displayName } exceptions } pageInfo { hasNextPage endCursor } } }`,
    { lateAfterMin: 25, first: 50, ...variables },
  )).ledger;
}

const subjects = async (variables: object): Promise<string[]> => (await page(variables)).nodes.map(({ subjectId }: any) => subjectId);

async function counts(variables: object = {}): Promise<Record<string, number>> {
  const { ledgerExceptions } = await lab.as('AUDITOR').ask<any>('query ($late: Int!, $kind: String, $id: UUID, $action: String) { ledgerExceptions(lateAfterMin: $late, subjectKind: $kind, id: $id, action: $action) { exception count } }', { late: 25, ...variables });
  return Object.fromEntries(ledgerExceptions.map(({ exception, count }: any) => [exception, count]));
}

describe('an exception of the ledger', () => {
  it.each(['AMENDED', 'ANSWERED', 'INSTRUMENT', 'SAME_HAND', 'CLOCK', 'LATE', 'TYPED', 'SIMULATED'])('%s finds what was planted and nothing else', async (exception) => {
    const found = await page({ exception, kind: exception === 'SAME_HAND' ? null : 'weighing' });
    expect(found.nodes.map(({ subjectId }: any) => subjectId).sort()).toEqual([...planted[exception]!].sort());
    expect(found.nodes.every((node: any) => node.exceptions.includes(exception))).toBe(true);
    expect((await counts({ kind: exception === 'SAME_HAND' ? null : 'weighing' }))[exception]).toBe(planted[exception]!.length);
  });

  it('does not stand on what is as it should be', async () => {
    expect((await page({ id: ids['clean'] })).nodes).toEqual([expect.objectContaining({ subjectId: ids['clean'], exceptions: [], label: 'weighing of D1', summary: '70.00 mg, turgid' })]);
    expect(await subjects({ exception: 'IMPORTED' })).toEqual([]);
    expect(await subjects({ exception: 'STALE' })).toEqual([]);
  });

  it('of being late moves with the span that is asked for', async () => {
    expect(await subjects({ exception: 'LATE', kind: 'weighing', lateAfterMin: 60 })).toEqual([]);
    // The simulated one is older than that too, and is not called late.
    expect((await subjects({ exception: 'LATE', kind: 'weighing', lateAfterMin: 10 })).sort()).toEqual([...planted['LATE']!].sort());
    const { errors } = await lab.as('AUDITOR').answer<any>('{ ledger(lateAfterMin: 0) { nodes { id } } }');
    expect(errors).toMatchObject([{ extensions: { problem: { code: 'INPUT', field: 'lateAfterMin' } } }]);
  });

  it('is told in the Thread of the record too', async () => {
    const { thread } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "weighing", id: $id, direction: DOWN) { root { exceptions instrumentStatusThen } } }', { id: planted['INSTRUMENT']![0] });
    expect(thread.root).toEqual({ exceptions: ['INSTRUMENT'], instrumentStatusThen: 'OVERDUE' });
  });

  it('is not found in the ledger of another lab', async () => {
    const other = await server.openLab('Other lab');
    const { ledger, ledgerExceptions } = await other.as('AUDITOR').ask<any>('{ ledger(exception: INSTRUMENT) { nodes { id } } ledgerExceptions { count } }');
    expect(ledger.nodes).toEqual([]);
    expect(ledgerExceptions.every(({ count }: any) => count === 0)).toBe(true);
  });
});

describe('the ledger', () => {
  it.each([{}, { exception: 'INSTRUMENT' }, { exception: 'SAME_HAND' }])('is paged without gap or repetition under %j', async (filter) => {
    const whole = await page({ ...filter, first: 200 });
    const paged: string[] = [];
    let after: string | null = null;
    do {
      const next: any = await page({ ...filter, first: 1, after });
      paged.push(...next.nodes.map(({ id }: any) => id));
      after = next.pageInfo.hasNextPage ? next.pageInfo.endCursor : null;
    } while (after);
    expect(paged).toEqual(whole.nodes.map(({ id }: any) => id));
    expect(new Set(paged).size).toBe(paged.length);
  });

  it('is narrowed by person, kind, verb, time, and the id of an entry or a record, each alone and with an exception', async () => {
    const all = (await page({ first: 200 })).nodes;
    const technician = all.find(({ subjectId }: any) => subjectId === ids['clean']).person.id;
    expect((await page({ person: technician, first: 200 })).nodes).toHaveLength(all.filter(({ person }: any) => person.id === technician).length);
    expect((await page({ kind: 'instrument' })).nodes).toHaveLength(4);
    expect(await subjects({ action: 'retract' })).toHaveLength(1);
    const entry = all.find(({ subjectId }: any) => subjectId === ids['clean']);
    expect(await subjects({ id: entry.id })).toEqual([ids['clean']]);
    const middle = all[6].recordedAt;
    const [before, since] = [await page({ until: middle, first: 200 }), await page({ from: middle, first: 200 })];
    expect([...since.nodes, ...before.nodes].map(({ id }: any) => id)).toEqual(all.map(({ id }: any) => id));
    expect(await subjects({ exception: 'TYPED', id: planted['TYPED']![0] })).toEqual(planted['TYPED']);
    expect(await subjects({ exception: 'TYPED', id: ids['clean'] })).toEqual([]);
    expect((await counts({ id: planted['TYPED']![0] }))).toMatchObject({ TYPED: 1, INSTRUMENT: 0, SIMULATED: 0 });
    expect((await counts({ action: 'retract' }))['TYPED']).toBe(0);
    const { ledgerActions } = await lab.as('AUDITOR').ask<any>('{ ledgerActions }');
    expect(ledgerActions).toEqual(expect.arrayContaining(['record', 'retract', 'approved']));
  });
});

describe('in check', () => {
  it('is one rule, asked moment by moment or for whole tables', async () => {
    const manager = lab.as('MANAGER');
    const id = await instrument('Often checked', null, 2);
    for (const [minutesAgo, shown] of [[700, '100'], [650, '101'], [600, '100'], [400, '100'], [390, '100'], [100, '100.04'], [20, '100.06']] as const) {
      await record(manager, 'recordInstrumentCheck', 'RecordInstrumentCheckInput', { id: newId(), instrumentId: id, observedAt: ago(minutesAgo), nominal: '100', shown, tolerance: '0.05' });
    }
    const database = await Database.open(server.database.appUrl, entities, 1);
    const { tx, close } = await database.openRead({ labId: lab.labId, accountId: newId() } as never);
    const moments = Array.from({ length: 160 }, (_, i) => new Date(Date.now() - i * 5 * 60_000));
    const one = await standingsAt(tx, moments.map((moment) => ({ instrumentId: id, at: moment })));
    const all = await tx.query<{ inCheck: boolean }>(
      `SELECT coalesce((SELECT spans FROM (${IN_CHECK}) c WHERE c.instrument_id = $2) @> moment, false) AS "inCheck" FROM unnest($3::timestamptz[]) WITH ORDINALITY AS asked(moment, n) ORDER BY n`,
      [lab.labId, id, moments],
    );
    expect(all.map(({ inCheck }) => inCheck)).toEqual(one.map(({ status }) => status === 'IN_CHECK'));
    expect(new Set(one.map(({ status }) => status))).toEqual(new Set(['IN_CHECK', 'OVERDUE', 'FAILED', 'UNCHECKED']));
    await close();
    await database.close();
  });
});
