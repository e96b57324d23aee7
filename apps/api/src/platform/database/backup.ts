import { createHash, type Hash } from 'node:crypto';
import { createReadStream, createWriteStream } from 'node:fs';
import { createInterface } from 'node:readline';
import { once } from 'node:events';
import { finished } from 'node:stream/promises';
import { createGunzip, createGzip } from 'node:zlib';
import pg from 'pg';
import { InputError } from '#libs/quantity';
import { migrate } from './migrate.js';

/**
 * A backup is a gzip of JSON Lines, UTF-8, each line ended by a newline:
 * - the head: format, version, when it was made, the migrations that the database had (name and SHA-256), the tables;
 * - for each table and lab `{"table": name, "lab": uuid or null}`, and below it the rows as JSON objects by column; where rows
 *   belong to an account instead of a lab, the line names it as `account`;
 * - the end: how many rows each table has, and the SHA-256 of all lines before.
 * Exact decimals keep their digits, bytes stand as \x and hexadecimal digits, moments as RFC 3339. Sessions are left out:
 * people sign in again. So are the queue of the ledger, which the sequencer finds by itself, and the jobs: what they made is in.
 */
const FORMAT = 'threadleaf-backup';
const VERSION = 1;
const LEFT_OUT = ['heard_line', 'schema_migration', 'session', 'ledger_pending', 'job'];
const ROWS_AT_ONCE = 1_000;
/** Rows of this table are as large as files. */
const LARGE_ROWS = 'stored_bytes';
/** Of text handed to the database at once. */
const BYTES_AT_ONCE = 4 * 1024 * 1024;

interface Head {
  readonly format: typeof FORMAT;
  readonly version: typeof VERSION;
  readonly createdAt: string;
  readonly migrations: readonly { readonly name: string; readonly sha256: string }[];
  readonly tables: readonly string[];
}

export interface BackupTold {
  readonly createdAt: string;
  /** Rows by table. */
  readonly rows: Readonly<Record<string, number>>;
  /** Of all lines before the last one, hex. */
  readonly sha256: string;
}

/** Writes one consistent snapshot of the whole database into a file while people go on writing. The serving role suffices. */
export async function writeBackup(databaseUrl: string, file: string): Promise<BackupTold> {
  const client = new pg.Client({ connectionString: databaseUrl, application_name: 'threadleaf backup', options: '-c role=threadleaf_app' });
  await client.connect();
  const gzip = createGzip();
  const out = gzip.pipe(createWriteStream(file, { flags: 'wx', mode: 0o600 }));
  const hash = createHash('sha256');
  const say = async (line: string): Promise<void> => {
    hash.update(`${line}\n`);
    if (!gzip.write(`${line}\n`)) await once(gzip, 'drain');
  };
  try {
    await Promise.race([once(out, 'open'), once(out, 'error').then(([error]) => { throw error; })]);
    await client.query('BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY');
    const head = await headOf(client);
    await say(JSON.stringify(head));
    const rows = await writeTables(client, head.tables, say);
    await client.query('COMMIT');
    const sha256 = hash.digest('hex');
    gzip.end(`${JSON.stringify({ end: true, rows, sha256 })}\n`);
    await finished(out);
    return { createdAt: head.createdAt, rows, sha256 };
  } finally {
    gzip.destroy();
    await client.end().catch(() => undefined);
  }
}

async function headOf(client: pg.Client): Promise<Head> {
  const { rows: migrations } = await client.query<{ name: string; sha256: string }>('SELECT name, sha256 FROM schema_migration ORDER BY name');
  const { rows: [now] } = await client.query<{ at: Date }>('SELECT now() AS at');
  return { format: FORMAT, version: VERSION, createdAt: now!.at.toISOString(), migrations, tables: await tablesInOrder(client) };
}

/** Every table after those that its rows point at. */
async function tablesInOrder(client: pg.Client): Promise<string[]> {
  const { rows } = await client.query<{ name: string; needs: string[] }>(
    `SELECT c.relname AS name, array_remove(array_agg(DISTINCT needed.relname::text), NULL) AS needs
     FROM pg_class c LEFT JOIN pg_constraint k ON k.conrelid = c.oid AND k.contype = 'f' AND k.confrelid <> c.oid
       LEFT JOIN pg_class needed ON needed.oid = k.confrelid
     WHERE c.relnamespace = 'public'::regnamespace AND c.relkind = 'r' AND c.relname <> ALL($1::text[]) GROUP BY c.relname ORDER BY c.relname`, [LEFT_OUT],
  );
  const ordered: string[] = [];
  for (let left = rows; left.length > 0;) {
    const ready = left.filter(({ needs }) => needs.every((needed) => ordered.includes(needed)));
    if (ready.length === 0) throw new Error(`Tables point at each other in a circle: ${left.map(({ name }) => name).join(', ')}`);
    ordered.push(...ready.map(({ name }) => name));
    left = left.filter((row) => !ready.includes(row));
  }
  return ordered;
}

/** Whose eyes a table's rows are kept from: each lab's rows are seen from inside it, each account's own by itself. */
type Fence = { readonly lab: string } | { readonly account: string } | null;

async function fencesOf(client: pg.Client, table: string, labs: readonly string[], accounts: readonly string[]): Promise<readonly Fence[]> {
  const { rows } = await client.query<{ name: string; fenced: boolean }>(
    `SELECT a.attname AS name, c.relrowsecurity AS fenced FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
     WHERE a.attrelid = $1::regclass AND a.attname IN ('lab_id', 'account_id') AND NOT a.attisdropped`, [`"${table}"`],
  );
  if (rows.some(({ name }) => name === 'lab_id')) return labs.map((lab) => ({ lab }));
  if (rows.some(({ name, fenced }) => name === 'account_id' && fenced)) return accounts.map((account) => ({ account }));
  return [null];
}

async function step(client: pg.Client, fence: Fence): Promise<void> {
  const [lab, account] = [fence && 'lab' in fence ? fence.lab : '', fence && 'account' in fence ? fence.account : ''];
  await client.query(`SELECT set_config('threadleaf.lab_id', $1, true), set_config('threadleaf.account_id', $2, true)`, [lab, account]);
}

const within = (fence: Fence): string => (fence === null ? '' : 'lab' in fence ? ` WHERE lab_id = '${fence.lab}'` : ` WHERE account_id = '${fence.account}'`);

async function writeTables(client: pg.Client, tables: readonly string[], say: (line: string) => Promise<void>): Promise<Record<string, number>> {
  const idsIn = async (table: string): Promise<string[]> => (await client.query<{ id: string }>(`SELECT id FROM ${table} ORDER BY id`)).rows.map(({ id }) => id);
  const [labs, accounts] = [await idsIn('lab'), await idsIn('account')];
  const counts: Record<string, number> = {};
  for (const table of tables) {
    counts[table] = 0;
    const atOnce = table === LARGE_ROWS ? 1 : ROWS_AT_ONCE;
    for (const fence of await fencesOf(client, table, labs, accounts)) {
      await step(client, fence);
      await say(JSON.stringify({ table, lab: null, ...fence }));
      await client.query(`DECLARE backup_rows NO SCROLL CURSOR FOR SELECT to_jsonb(r)::text AS line FROM "${table}" r${within(fence)}`);
      for (;;) {
        const { rows } = await client.query<{ line: string }>(`FETCH ${atOnce} FROM backup_rows`);
        for (const { line } of rows) await say(line);
        counts[table] += rows.length;
        if (rows.length < atOnce) break;
      }
      await client.query('CLOSE backup_rows');
    }
  }
  return counts;
}

/**
 * Restores a backup into an empty database: the schema as it was, the rows, then the migrations made since. All rows or
 * none.
 *
 * @param ownerUrl login that may create tables, of a database without a lab
 * @throws InputError `BAD_BACKUP` for a file that is cut, altered or none; `NOT_EMPTY`; `NEWER` for one of a newer version
 */
export async function restoreBackup(ownerUrl: string, file: string, migrations?: string): Promise<BackupTold> {
  const told = await readWhole(file);
  const head = await readHead(file);
  await refuseUsed(ownerUrl);
  await migrate(ownerUrl, migrations, head.migrations);
  const client = new pg.Client({ connectionString: ownerUrl, application_name: 'threadleaf restore' });
  await client.connect();
  try {
    await client.query('BEGIN');
    const counts = await loadRows(client, file);
    const differing = Object.keys(told.rows).find((table) => told.rows[table] !== (counts[table] ?? 0));
    if (differing) throw bad(`has ${counts[differing] ?? 0} rows of ${differing} where its end tells ${told.rows[differing]}`);
    await client.query('COMMIT');
  } catch (error) {
    await client.query('ROLLBACK').catch(() => undefined);
    throw error;
  } finally {
    await client.end().catch(() => undefined);
  }
  await migrate(ownerUrl, migrations);
  return told;
}

async function loadRows(client: pg.Client, file: string): Promise<Record<string, number>> {
  const counts: Record<string, number> = {};
  let table = '';
  let batch: string[] = [];
  let bytes = 0;
  const flush = async (): Promise<void> => {
    if (batch.length === 0) return;
    const columns = Object.keys(JSON.parse(batch[0]!) as object).map((name) => `"${name.replaceAll('"', '""')}"`).join(', ');
    await client.query(`INSERT INTO "${table}" (${columns}) SELECT ${columns} FROM jsonb_populate_recordset(NULL::"${table}", $1::jsonb)`, [`[${batch.join(',')}]`]);
    counts[table] = (counts[table] ?? 0) + batch.length;
    [batch, bytes] = [[], 0];
  };
  let first = true;
  for await (const line of linesOf(file)) {
    if (first) { first = false; continue; }
    const mark = markOf(line);
    if (mark === 'end') break;
    if (mark) {
      await flush();
      table = mark.table;
      await step(client, mark.lab ? { lab: mark.lab } : mark.account ? { account: mark.account } : null);
      continue;
    }
    batch.push(line);
    bytes += line.length;
    if (bytes > BYTES_AT_ONCE || batch.length >= ROWS_AT_ONCE) await flush();
  }
  await flush();
  // The rows came in with their places: nothing of them waits.
  const { rows: labs } = await client.query<{ id: string }>('SELECT id FROM lab');
  for (const { id } of labs) {
    await client.query(`SELECT set_config('threadleaf.lab_id', $1, true)`, [id]);
    await client.query('DELETE FROM ledger_pending p USING ledger_place place WHERE p.lab_id = $1 AND place.lab_id = $1 AND place.entry_id = p.entry_id', [id]);
  }
  return counts;
}

interface Mark {
  readonly table: string;
  readonly lab: string | null;
  readonly account?: string;
}

/** A line that is no row: the beginning of a table, or the end. No table has a column called table or end. */
function markOf(line: string): Mark | 'end' | null {
  if (line.startsWith('{"end":')) return 'end';
  return line.startsWith('{"table":') ? parsed<Mark>(line) : null;
}

/** A damaged byte of the packed file can garble any line after it, these too. */
function parsed<T>(line: string): T {
  try {
    return JSON.parse(line) as T;
  } catch {
    throw bad('has a line that cannot be read: it was altered');
  }
}

async function refuseUsed(ownerUrl: string): Promise<void> {
  const client = new pg.Client({ connectionString: ownerUrl });
  await client.connect();
  try {
    const { rows: [found] } = await client.query<{ lab: string | null }>(`SELECT to_regclass('public.lab')::text AS lab`);
    const used = found!.lab !== null && ((await client.query('SELECT 1 FROM lab LIMIT 1')).rowCount ?? 0) > 0;
    if (used) throw new InputError('NOT_EMPTY', 'database', 'holds a lab already', 'Restore into a new database or a new data folder; nothing was changed.');
  } finally {
    await client.end();
  }
}

/** Reads the whole file and compares it with its own end, before a single row is written. */
async function readWhole(file: string): Promise<BackupTold> {
  const hash: Hash = createHash('sha256');
  let end = null as { rows: Record<string, number>; sha256: string } | null;
  for await (const line of linesOf(file)) {
    if (end) throw bad('goes on after its end');
    if (markOf(line) === 'end') end = parsed<typeof end>(line);
    else hash.update(`${line}\n`);
  }
  if (!end) throw bad('has no end: it was cut');
  const sha256 = hash.digest('hex');
  if (sha256 !== end.sha256) throw bad('is not as it was written: its hash differs');
  return { createdAt: (await readHead(file)).createdAt, rows: end.rows, sha256 };
}

async function readHead(file: string): Promise<Head> {
  for await (const line of linesOf(file)) {
    let head: Partial<Head> | null = null;
    try {
      head = JSON.parse(line) as Partial<Head>;
    } catch {
      head = null;
    }
    if (head?.format !== FORMAT) throw bad('is no backup');
    if (head.version !== VERSION) throw new InputError('NEWER', 'backup', `is of version ${head.version}`, 'Restore it with the Threadleaf that made it, or a newer one.');
    return head as Head;
  }
  throw bad('is empty');
}

async function* linesOf(file: string): AsyncGenerator<string> {
  const source = createReadStream(file);
  const gunzip = createGunzip();
  source.on('error', (error) => gunzip.destroy(error));
  // Damage may be met after the reader has seen enough and left: without a listener that would end the program.
  gunzip.on('error', () => undefined);
  try {
    yield* createInterface({ input: source.pipe(gunzip), crlfDelay: Infinity });
    if (gunzip.errored) throw gunzip.errored;
  } catch (error) {
    const { code } = error as { code?: string };
    if (code?.startsWith('Z_') || code === 'ERR_STREAM_PREMATURE_CLOSE') throw bad(`cannot be unpacked (${code}): it was cut or altered`);
    if (code === 'ENOENT' || code === 'EACCES') throw new InputError('NO_FILE', 'backup', `${file} cannot be read (${code})`, 'Give the path of a backup.');
    throw error;
  } finally {
    source.destroy();
    gunzip.destroy();
  }
}

const bad = (problem: string): InputError => new InputError('BAD_BACKUP', 'backup', problem, 'Take another copy of it; nothing was restored.');
