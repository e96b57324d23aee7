import { rollOf } from '#libs/label';
import { keptEntities, entities } from '../../apps/api/src/entities.js';
import { RESULT_KINDS } from '../../apps/api/src/modules/amendment/amendment.repository.js';
import { Database, type Tx } from '../../apps/api/src/platform/database/database.js';
import { metadataOf } from '../../apps/api/src/platform/database/rows.js';
import { checkRecord, type RecordCheck } from '../../apps/api/src/platform/ledger/check.js';
import { BOOKKEEPING, Recorder } from '../../apps/api/src/platform/ledger/recorder.js';
import { storeFile } from '../support/stored-file.js';
import { at, record } from '../support/chain.js';
import { openedUnderProtocol } from '../support/protocol.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { fillField, fillLab } from '../support/whole-chain.js';

/**
 * Whoever owns the database can change any byte in it. These tests do so, one place after another, with triggers, foreign
 * keys and checks out of the way, and ask each time whether the record still seems whole.
 */
let server: TestServer;
let lab: TestLab;
let neighbour: TestLab;
let database: Database;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Attacked lab');
  neighbour = await server.openLab('Neighbour lab');
  const filled = await fillLab(lab);
  await fillField(lab, filled);
  await openedUnderProtocol(lab, filled.bench);
  await record(lab.as('TECHNICIAN'), 'retract', 'RetractInput', {
    id: newId(), targetKind: 'weighing', targetId: filled.run.weighingIds[2]![3], reasonCode: 'WRONG_DISC', reason: 'The neighbour was on the pan.',
  });
  const [discId, placeId] = [filled.run.discIds[0]!, newId()];
  await record(lab.as('TECHNICIAN'), 'amendSample', 'AmendSampleInput', { id: newId(), subjectKind: 'DISC', subjectId: discId, position: 'tip', reason: 'Seen on the photo.' });
  await record(lab.as('TECHNICIAN'), 'recordSampleLoss', 'RecordSampleLossInput', { losses: [{ id: newId(), subjectKind: 'DISC', subjectId: discId }], outcome: 'LOST', noticedAt: at(9000), reason: 'Not in its tray.' });
  await record(lab.as('TECHNICIAN'), 'recordPlace', 'RecordPlaceInput', { id: placeId, placeKind: 'TRAY', label: 'Tray 1' });
  await record(lab.as('TECHNICIAN'), 'recordCustody', 'RecordCustodyInput', { moves: [{ id: newId(), subjectKind: 'DISC', subjectId: discId }], placeId, movedAt: at(8000) });
  await record(lab.as('TECHNICIAN'), 'printLabels', 'PrintLabelsInput', { id: newId(), subjectKind: 'DISC', subjectIds: [discId], symbology: 'DATA_MATRIX', stock: rollOf(30, 15) });
  // Twice the same bytes: when one file is moved away, the other still misses them.
  await storeFile(lab.as('TECHNICIAN'), 'note.txt', Buffer.from('what the drier printed\n'), 'DOCUMENT');
  await storeFile(lab.as('TECHNICIAN'), 'copy.txt', Buffer.from('what the drier printed\n'), 'DOCUMENT');
  await record(lab.as('MANAGER'), 'recordFieldCheck', 'RecordFieldCheckInput', { id: newId(), installationId: filled.installationId, observedAt: at(9300), discIds: [filled.run.discIds[0]], note: 'Leaf still under the device.' });
  await record(neighbour.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: newId(), name: 'Vine' });
  await server.served.settleLedger(lab.labId);
  await server.served.settleLedger(neighbour.labId);
  database = await Database.open(server.database.ownerUrl, entities, 2);
  // What the server does behind requests reads these tables too; where both wait for each other, the database ends one of them.
  const untilNoneWaits = async (work: () => Promise<unknown>): Promise<void> => {
    await work().catch((error: { code?: string }) => (error.code === DEADLOCK ? untilNoneWaits(work) : Promise.reject(error)));
  };
  await untilNoneWaits(() => asOwner(async (tx) => {
    const checks = await tx.query<{ statement: string }>(
      `SELECT format('ALTER TABLE %s DROP CONSTRAINT %I', conrelid::regclass, conname) AS statement FROM pg_constraint
       WHERE contype IN ('c', 'f') AND connamespace = 'public'::regnamespace AND conrelid <> 0 ORDER BY contype DESC`,
    );
    for (const { statement } of checks) await tx.query(statement);
  }, true));
  await recordWhatIsMissing();
  await server.served.settleLedger(lab.labId);
}, 180_000);

afterAll(async () => {
  await database.close();
  await server.close();
});

const DEADLOCK = '40P01';

/** A value of each type that a column of a kept table has. */
const ANY: Readonly<Record<string, () => unknown>> = {
  text: () => 'any', uuid: newId, timestamptz: () => new Date('2026-06-03T09:00:00.000Z'), numeric: () => '1.5', 'double precision': () => 0.5,
  smallint: () => 1, integer: () => 1, bigint: () => 1, boolean: () => true, bytea: () => Buffer.alloc(32, 1), jsonb: () => ({ any: 1 }),
};

/** A kind of record that the chain above made none of gets one with any values, so that no table escapes the attacks. */
async function recordWhatIsMissing(): Promise<void> {
  await database.write({ labId: lab.labId, accountId: null }, async (tx) => {
    await tx.query('RESET ROLE; SET LOCAL ROLE NONE');
    const [{ id: accountId }] = await tx.query<{ id: string }>('SELECT account_id AS id FROM membership WHERE lab_id = $1 LIMIT 1', [lab.labId]) as [{ id: string }];
    for (const entity of keptEntities) {
      const { tableName, columns } = metadataOf(tx, entity);
      if ((await tx.query(`SELECT 1 FROM "${tableName}" WHERE lab_id = $1 LIMIT 1`, [lab.labId])).length > 0) continue;
      const given: Record<string, unknown> = { id: newId() };
      for (const column of columns.filter(({ propertyName }) => !BOOKKEEPING.includes(propertyName))) {
        const make = ANY[String(column.type)];
        if (!make) throw new Error(`What is a ${String(column.type)}? (${tableName}.${column.databaseName})`);
        given[column.propertyName] = column.isArray ? [make()] : make();
      }
      await new Recorder().record(tx, { accountId, displayName: 'Anybody', labId: lab.labId, roles: [], token: null }, entity as never, given as never, () => ({ uses: [] }));
    }
  });
}

class Undo extends Error {}

/** Works as the owner with nothing in the way; undone afterwards unless `keep`. */
async function asOwner<T>(work: (tx: Tx) => Promise<T>, keep = false, labId = lab.labId): Promise<T> {
  let result!: T;
  await database.write({ labId, accountId: null }, async (tx) => {
    await tx.query('RESET ROLE; SET LOCAL ROLE NONE; SET LOCAL session_replication_role = replica');
    result = await work(tx);
    if (!keep) throw new Undo();
  }).catch((error) => { if (!(error instanceof Undo)) throw error; });
  return result;
}

const check = (tx: Tx, kept: readonly string[] = []): Promise<RecordCheck> => checkRecord(tx, keptEntities, RESULT_KINDS, kept);

const flawsAfter = (attack: (tx: Tx) => Promise<unknown>, kept: readonly string[] = []): Promise<readonly unknown[]> =>
  asOwner(async (tx) => {
    await attack(tx);
    return (await check(tx, kept)).flaws;
  });

const LEDGER_TABLES = ['ledger_entry', 'lineage_edge', 'stale_mark', 'ledger_place', 'ledger_node', 'ledger_checkpoint', 'ledger_key'];

interface StoredColumn {
  readonly table: string;
  readonly column: string;
  readonly type: string;
}

/** Another value of a type, near the one that stands there. */
const OTHER: Readonly<Record<string, (column: string) => string>> = {
  text: (column) => `coalesce(${column}, '') || 'x'`,
  uuid: () => 'gen_random_uuid()',
  'timestamp with time zone': (column) => `coalesce(${column}, now()) + interval '1 millisecond'`,
  numeric: (column) => `coalesce(${column}, 0) + 0.0001`,
  'double precision': (column) => `coalesce(${column}, 0) * (1 + 1e-15) + 1e-15`,
  smallint: (column) => `coalesce(${column}, 0) + 1`,
  integer: (column) => `coalesce(${column}, 0) + 1`,
  bigint: (column) => `coalesce(${column}, 0) + 1000000`,
  boolean: (column) => `NOT coalesce(${column}, false)`,
  bytea: (column) => `set_byte(${column}, 7, get_byte(${column}, 7) # 1)`,
  'text[]': (column) => `array_append(${column}, 'x')`,
  'uuid[]': (column) => `array_append(${column}, gen_random_uuid())`,
  jsonb: (column) => `CASE jsonb_typeof(${column}) WHEN 'object' THEN ${column} || '{"added": 1}' ELSE coalesce(${column}, '[]') || '[1]' END`,
};

async function storedColumns(): Promise<StoredColumn[]> {
  return asOwner(async (tx) => {
    const columns = await tx.query<StoredColumn>(
      `SELECT c.relname AS table, a.attname AS column, format_type(a.atttypid, NULL) AS type
       FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_attribute a ON a.attrelid = c.oid
       WHERE t.tgname = 'append_only_row' AND a.attnum > 0 AND NOT a.attisdropped ORDER BY c.relname, a.attnum`,
    );
    for (const table of new Set(columns.map((one) => one.table))) {
      const [row] = await tx.query(`SELECT 1 FROM ${table} WHERE lab_id = $1 LIMIT 1`, [lab.labId]);
      if (!row) throw new Error(`${table} has no row to attack: make one at the beginning of this test.`);
    }
    return columns;
  });
}

describe('an untouched record', () => {
  it('is found whole', async () => {
    const found = await asOwner((tx) => check(tx));
    expect(found.flaws).toEqual([]);
    expect(found.records).toBeGreaterThan(150);
    expect(found.size).toBe(found.records);
    expect(found.signed).toBe(found.size);
    expect(found.waiting).toBe(0);
  });
});

describe('one changed value', () => {
  const change = async (tx: Tx, { table, column, type }: StoredColumn): Promise<string> => {
    const other = OTHER[type];
    if (!other) throw new Error(`How is a ${type} changed? (${table}.${column})`);
    const [before] = await tx.query<{ ctid: string; id: string | null }>(
      `SELECT ctid::text, coalesce(to_jsonb(r)->>'id', to_jsonb(r)->>'sha256') AS id FROM ${table} r WHERE lab_id = $1 ORDER BY ctid DESC LIMIT 1`, [lab.labId],
    );
    const [changed] = await tx.query<unknown>(`UPDATE ${table} SET "${column}" = ${other(`"${column}"`)} WHERE ctid = $1::tid RETURNING 1`, [before!.ctid]);
    expect(changed).toHaveLength(1);
    return `${table} ${before!.id}`;
  };

  it('in any column of any fact or result is found, and the record named', async () => {
    const facts = (await storedColumns()).filter(({ table }) => !LEDGER_TABLES.includes(table));
    const byTable = [...new Set(facts.map(({ table }) => table))].map((table) => facts.filter((one) => one.table === table));
    expect(byTable.length).toBeGreaterThan(25);
    const unseen: string[] = [];
    let attacked = 0;
    // One column of each table at a time: each attacked record must be named by itself.
    for (let nth = 0; byTable.some((columns) => columns[nth]); nth += 1) {
      await asOwner(async (tx) => {
        const attacks: [StoredColumn, string][] = [];
        for (const stored of byTable.flatMap((columns) => columns[nth] ?? [])) attacks.push([stored, await change(tx, stored)]);
        const named = new Set((await check(tx)).flaws.map(({ about }) => about));
        unseen.push(...attacks.filter(([, about]) => !named.has(about)).map(([{ table, column }]) => `${table}.${column}`));
        attacked += attacks.length;
      });
    }
    expect(unseen).toEqual([]);
    expect(attacked).toBe(facts.length);
    expect(attacked).toBeGreaterThan(270);
  }, 300_000);

  it('in any column of the ledger, the lineage and the stale marks is found', async () => {
    const columns = (await storedColumns()).filter(({ table }) => LEDGER_TABLES.includes(table));
    expect(new Set(columns.map(({ table }) => table)).size).toBe(LEDGER_TABLES.length);
    const unseen: string[] = [];
    for (const stored of columns) {
      // A checkpoint that is gone leaves nothing to differ from: it is the one thing that must be kept outside.
      if (stored.table === 'ledger_checkpoint' && stored.column === 'lab_id') continue;
      if ((await flawsAfter((tx) => change(tx, stored))).length === 0) unseen.push(`${stored.table}.${stored.column}`);
    }
    expect(unseen).toEqual([]);
  }, 300_000);

  it('deep in a document, or a zero more at the end of a mass, is found', async () => {
    const attacks = [
      `UPDATE rwc_series SET document = jsonb_set(document, '{points,2,rwc}', to_jsonb((document #>> '{points,2,rwc}')::numeric + 1e-12)) WHERE ctid = (SELECT min(ctid) FROM rwc_series)`,
      `UPDATE weighing SET mass_mg = (mass_mg::text || '0')::numeric WHERE ctid = (SELECT min(ctid) FROM weighing)`,
      `UPDATE bias_sweep SET steps = jsonb_set(steps, '{3,0}', '1.0000001')`,
    ];
    for (const attack of attacks) expect(await flawsAfter((tx) => tx.query(attack))).not.toEqual([]);
  });
});

describe('rows', () => {
  it('taken away are missed in every kept table', async () => {
    const tables = [...new Set((await storedColumns()).map(({ table }) => table))].filter((table) => table !== 'ledger_checkpoint');
    // Bytes of files are missed by the file that points at them, which may be gone itself here: they are taken away alone below.
    const facts = tables.filter((table) => !LEDGER_TABLES.includes(table) && table !== 'stored_bytes');
    const missed = await asOwner(async (tx) => {
      const gone: string[] = [];
      for (const table of facts) {
        const [rows] = await tx.query<any>(`DELETE FROM ${table} r WHERE ctid = (SELECT ctid FROM ${table} WHERE lab_id = $1 ORDER BY random() LIMIT 1) RETURNING coalesce(to_jsonb(r)->>'id', to_jsonb(r)->>'sha256') AS id`, [lab.labId]) as [{ id: string }[]];
        gone.push(`${table} ${rows[0]!.id}`);
      }
      const named = new Set((await check(tx)).flaws.map(({ about }) => about));
      return gone.filter((about) => !named.has(about));
    });
    expect(missed).toEqual([]);
    for (const table of tables.filter((one) => !facts.includes(one))) {
      const flaws = await flawsAfter((tx) => tx.query(`DELETE FROM ${table} WHERE ctid = (SELECT ctid FROM ${table} WHERE lab_id = $1 ORDER BY random() LIMIT 1)`, [lab.labId]));
      expect({ table, found: flaws.length > 0 }).toEqual({ table, found: true });
    }
  }, 300_000);

  it('smuggled in are found, with an entry or without', async () => {
    const crop = `INSERT INTO crop SELECT lab_id, gen_random_uuid(), recorded_at, recorded_by, content_hash, 'Smuggled', null FROM crop WHERE lab_id = $1 LIMIT 1`;
    expect(await flawsAfter((tx) => tx.query(crop, [lab.labId]))).not.toEqual([]);
    const entry = `INSERT INTO ledger_entry SELECT lab_id, gen_random_uuid(), recorded_at, recorded_by, action, subject_kind, subject_id, content_hash, reason FROM ledger_entry WHERE lab_id = $1 LIMIT 1`;
    expect(await flawsAfter((tx) => tx.query(entry, [lab.labId]))).not.toEqual([]);
    const edge = `INSERT INTO lineage_edge SELECT lab_id, from_kind, from_id, to_kind, gen_random_uuid(), role FROM lineage_edge WHERE lab_id = $1 LIMIT 1`;
    expect(await flawsAfter((tx) => tx.query(edge, [lab.labId]))).not.toEqual([]);
    const mark = `INSERT INTO stale_mark SELECT $1, 'rwc_series', (SELECT id FROM rwc_series s WHERE NOT EXISTS (SELECT FROM stale_mark m WHERE m.result_id = s.id) LIMIT 1), id FROM amendment LIMIT 1`;
    expect(await flawsAfter((tx) => tx.query(mark, [lab.labId]))).not.toEqual([]);
  });

  it('in another order are found', async () => {
    const swap = `WITH two AS (SELECT array_agg(entry_id ORDER BY place) AS ids FROM ledger_place WHERE lab_id = $1 AND place IN (3, 9)),
      gone AS (DELETE FROM ledger_place WHERE lab_id = $1 AND place IN (3, 9)) SELECT ids FROM two`;
    const flaws = await flawsAfter(async (tx) => {
      const [{ ids }] = await tx.query<any>(swap, [lab.labId]) as [{ ids: string }];
      const [third, ninth] = String(ids).replace(/[{}]/g, '').split(',');
      await tx.query('INSERT INTO ledger_place (lab_id, place, entry_id) VALUES ($1, 3, $2), ($1, 9, $3)', [lab.labId, ninth, third]);
    });
    expect(flaws).not.toEqual([]);
  });

  it('of the ledgers of two labs, put in each other\'s place, are found in both', async () => {
    // Entry, place and record change labs together, so that nothing within one row tells.
    const swap = async (tx: Tx): Promise<void> => {
      for (const table of ['ledger_entry', 'crop']) {
        const own = table === 'crop' ? '' : `AND subject_kind = 'crop'`;
        await tx.query(`UPDATE ${table} SET lab_id = CASE lab_id WHEN $1 THEN $2::uuid ELSE $1::uuid END WHERE lab_id IN ($1, $2) ${own}`, [lab.labId, neighbour.labId]);
      }
      await tx.query(
        `WITH theirs AS (SELECT p.lab_id, p.place, p.entry_id FROM ledger_place p JOIN ledger_entry e ON e.id = p.entry_id WHERE e.subject_kind = 'crop'),
           gone AS (DELETE FROM ledger_place p USING theirs WHERE p.lab_id = theirs.lab_id AND p.place = theirs.place RETURNING p.place)
         SELECT count(*) FROM gone`);
      await tx.query(
        `INSERT INTO ledger_place (lab_id, place, entry_id) SELECT e.lab_id, 0, e.id FROM ledger_entry e WHERE e.subject_kind = 'crop' ON CONFLICT DO NOTHING`);
    };
    for (const { labId } of [lab, neighbour]) {
      const flaws = await asOwner(async (tx) => { await swap(tx); return (await check(tx)).flaws; }, false, labId);
      expect(flaws).not.toEqual([]);
    }
  });

  it('moved to another lab are found in both', async () => {
    const move = async (tx: Tx): Promise<void> => {
      await tx.query(`UPDATE crop SET lab_id = $2 WHERE lab_id = $1`, [lab.labId, neighbour.labId]);
      await tx.query(`UPDATE ledger_entry SET lab_id = $2 WHERE lab_id = $1 AND subject_kind = 'crop'`, [lab.labId, neighbour.labId]);
    };
    expect(await flawsAfter(move)).not.toEqual([]);
    const there = await asOwner(async (tx) => { await move(tx); return (await check(tx)).flaws; }, false, neighbour.labId);
    expect(there).not.toEqual([]);
  });
});

describe('a record that was forged whole', () => {
  /** Hashes mended too: only the tree still remembers. */
  it('is found although each row agrees with its own entry', async () => {
    const flaws = await flawsAfter(async (tx) => {
      await tx.query(`UPDATE ledger_entry SET reason = 'mended' WHERE ctid = (SELECT min(ctid) FROM ledger_entry WHERE lab_id = $1)`, [lab.labId]);
    });
    expect(JSON.stringify(flaws)).toContain('root that was signed');
  });

  it('or set back to an earlier state is found by a checkpoint kept outside', async () => {
    const [{ note, size }] = await asOwner((tx) => tx.query<any>('SELECT note, size::int AS size FROM ledger_checkpoint WHERE lab_id = $1 ORDER BY ledger_checkpoint.size DESC LIMIT 1', [lab.labId])) as [{ note: string; size: number }];
    const setBack = async (tx: Tx): Promise<void> => {
      const [{ entry, subject, kind }] = await tx.query<any>('SELECT p.entry_id AS entry, e.subject_id AS subject, e.subject_kind AS kind FROM ledger_place p JOIN ledger_entry e ON e.id = p.entry_id WHERE p.lab_id = $1 AND place = $2', [lab.labId, size - 1]) as [{ entry: string; subject: string; kind: string }];
      await tx.query('DELETE FROM ledger_checkpoint WHERE lab_id = $1', [lab.labId]);
      await tx.query('DELETE FROM ledger_place WHERE lab_id = $1 AND place = $2', [lab.labId, size - 1]);
      for (let level = 0; (size / 2 ** level) % 1 === 0; level += 1) await tx.query('DELETE FROM ledger_node WHERE lab_id = $1 AND level = $2 AND index = $3', [lab.labId, level, size / 2 ** level - 1]);
      await tx.query('DELETE FROM ledger_entry WHERE id = $1', [entry]);
      await tx.query('DELETE FROM lineage_edge WHERE from_id = $1', [subject]);
      await tx.query(`DELETE FROM "${kind}" WHERE id = $1`, [subject]);
      await tx.query('DELETE FROM stale_mark WHERE amendment_id = $1', [subject]);
    };
    expect(await flawsAfter(setBack)).toEqual([]);
    const found = JSON.stringify(await flawsAfter(setBack, [note]));
    expect(found).toContain('set back');
  });
});
