import { spawn, type ChildProcess } from 'node:child_process';
import { join } from 'node:path';
import pg from 'pg';
import { entities } from '../../apps/api/src/entities.js';
import { Announcer } from '../../apps/api/src/platform/database/announcer.js';
import { Database } from '../../apps/api/src/platform/database/database.js';
import type { Actor } from '../../apps/api/src/platform/identity/actor.js';
import { Jobs } from '../../apps/api/src/platform/jobs/jobs.js';
import { packageRoot } from '../../apps/cli/src/package-root.js';
import { at, record } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { until } from '../support/until.js';
import { fillLab, unitOfLot, type FilledLab } from '../support/whole-chain.js';

/**
 * Certificates for a lot, called off and taken up again, and with the worker killed in between: what stands afterwards is
 * one certificate or one refusal a unit. Units of the lot differ, so that no certificate can stand for another.
 */
const UNITS = 10;
/** Places of units without a curve: while the test holds refusals back, the work stands still before the next of them. */
const BARE: readonly number[] = [4, 7];

let server: TestServer;
let lab: TestLab;
let engineer: Client;
let filled: FilledLab;
let lightReferenceId: string;
let lotId: string;
let unitIds: string[];
let owner: pg.Client;
let closed = false;
const workers: ChildProcess[] = [];

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab with a lot');
  engineer = lab.as('FIELD_ENGINEER');
  filled = await fillLab(lab);
  ({ thresholdCertificate: { lightReference: { id: lightReferenceId } } } = await engineer.ask<any>('query ($id: UUID!) { thresholdCertificate(id: $id) { lightReference { id } } }', { id: filled.certificateId }));
  lotId = newId();
  await record(engineer, 'registerDeviceLot', 'RegisterDeviceLotInput', { id: lotId, label: 'Lot to certify' });
  unitIds = [];
  for (let i = 0; i < UNITS; i += 1) {
    if (!BARE.includes(i)) unitIds.push(await unitOfLot(engineer, lotId, `C-${i + 1}`, 280 + 8 * i));
    else {
      unitIds.push(newId());
      await record(engineer, 'registerDeviceUnit', 'RegisterDeviceUnitInput', { id: unitIds[i], lotId, label: `C-${i + 1}` });
    }
  }
  owner = new pg.Client({ connectionString: server.database.ownerUrl });
  await owner.connect();
});

afterAll(async () => {
  workers.forEach((child) => child.kill('SIGKILL'));
  await owner.end();
  if (!closed) await server.served.close();
  await server.database.drop();
});

const asked = (): any => ({
  id: newId(), deviceUnitIds: unitIds, calibrationVersionId: filled.versionId, lightReferenceId, targetRwc: 0.8, targetBasis: 'Test', validUntil: at(5_000_000), falseTripRwc: 0.95, missedTripRwc: 0.65,
});

const OUTCOMES = 'batch { job { state attempt progress } outcomes { deviceUnit { id } certificate { id biasV } refusal { id code } } }';
const start = (input: object): Promise<any> => record(engineer, 'issueCertificates', 'IssueCertificatesInput', input, OUTCOMES);

interface Seen {
  readonly outcomes: number;
  readonly state: string;
  readonly attempt: number;
}

async function seen(batchId: string): Promise<Seen> {
  const { rows: [row] } = await owner.query<Seen>(
    `SELECT state, attempt, (SELECT count(*)::int FROM threshold_certificate WHERE certificate_batch_id = $1) + (SELECT count(*)::int FROM certificate_refusal WHERE certificate_batch_id = $1) AS outcomes
     FROM job WHERE id = $1`, [batchId],
  );
  return row!;
}

const sees = (batchId: string, wanted: (now: Seen) => boolean): Promise<Seen> => until('the batch stands so', async () => {
  const now = await seen(batchId);
  if (now.state === 'FAILED') throw new Error('The job failed.');
  return wanted(now) && now;
});

/** Until somebody waits for the row of a job, or seems not to. */
async function waitsForRow(): Promise<void> {
  for (const until = Date.now() + 15_000; Date.now() < until;) {
    const { rows } = await owner.query(`SELECT 1 FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock' AND query LIKE 'UPDATE job SET state = ''CANCELLED''%'`);
    if (rows.length > 0) return;
    await new Promise((resolve) => { setTimeout(resolve, 10); });
  }
}

/** Until the work stands before the refusal it may not write, and so holds the row of its job. */
const standsBeforeRefusal = (): Promise<unknown> => until('the work stands before a refusal', async () => (await owner.query(
  `SELECT 1 FROM pg_locks WHERE relation = 'certificate_refusal'::regclass AND database = (SELECT oid FROM pg_database WHERE datname = current_database()) AND NOT granted`,
)).rows.length > 0);

/** Keeps refusals from being written until they are let go. */
async function holdRefusals(): Promise<() => Promise<void>> {
  const client = new pg.Client({ connectionString: server.database.ownerUrl });
  await client.connect();
  await client.query('BEGIN');
  await client.query('LOCK TABLE certificate_refusal IN EXCLUSIVE MODE');
  return async () => {
    await client.query('COMMIT');
    await client.end();
  };
}

async function requireWhole(batchId: string): Promise<void> {
  const { rows: certificates } = await owner.query(`SELECT device_unit_id AS unit, (document->>'biasV')::float8 AS bias FROM threshold_certificate WHERE certificate_batch_id = $1`, [batchId]);
  const { rows: refusals } = await owner.query('SELECT device_unit_id AS unit, message FROM certificate_refusal WHERE certificate_batch_id = $1', [batchId]);
  const characterised = unitIds.filter((_, i) => !BARE.includes(i));
  expect(certificates.map(({ unit }) => unit).sort()).toEqual([...characterised].sort());
  expect(refusals.map(({ unit }) => unit).sort()).toEqual(BARE.map((i) => unitIds[i]).sort());
  for (const { message } of refusals) expect(message).toContain('no bias-threshold curve');
  // More power at zero bias asks for more bias: each has its own, in the order of the lot.
  const biases = characterised.map((id) => certificates.find(({ unit }) => unit === id)!.bias);
  expect(biases).toEqual([...biases].sort((a, b) => a - b));
  expect(new Set(biases).size).toBe(biases.length);
}

const cancel = async (client: Client, id: string): Promise<any> =>
  (await client.ask<any>('mutation ($id: UUID!) { cancelJob(id: $id) { job { state } problem { code } } }', { id })).cancelJob;

/** Begun, and called off while the first unit without a curve is being written. */
async function calledOff(): Promise<any> {
  const input = asked();
  const letGo = await holdRefusals();
  const { batch } = await start(input);
  expect(batch.outcomes).toHaveLength(UNITS);
  await sees(input.id, ({ outcomes }) => outcomes === BARE[0]);
  await standsBeforeRefusal();
  // A technician may not; whoever asked for them may, and waits for the unit that is being written.
  expect((await cancel(lab.as('TECHNICIAN'), input.id)).problem).toMatchObject({ code: 'STATE' });
  const cancelling = cancel(engineer, input.id);
  await Promise.race([cancelling, waitsForRow()]);
  await letGo();
  expect((await cancelling).job).toMatchObject({ state: 'CANCELLED' });
  return input;
}

describe('certificates for a lot', () => {
  it('called off, stop and keep what was issued; taken up again, they are all there once', async () => {
    const input = await calledOff();
    // What would come now comes within a second.
    await new Promise((resolve) => { setTimeout(resolve, 1000); });
    expect(await seen(input.id)).toMatchObject({ state: 'CANCELLED', outcomes: BARE[0]! + 1 });
    const { retryJob } = await engineer.ask<any>('mutation ($id: UUID!) { retryJob(id: $id) { job { state } problem { code } } }', { id: input.id });
    expect(retryJob).toMatchObject({ job: { state: 'QUEUED' }, problem: null });
    await sees(input.id, ({ state }) => state === 'DONE');
    await requireWhole(input.id);
    expect(await start(input)).toMatchObject({ replayed: true, batch: { job: { state: 'DONE', progress: 1 } } });
  });

  it('are finished by another worker when the one at work is killed in between', async () => {
    const input = await calledOff();
    const { me } = await engineer.ask<any>('{ me { person { id displayName } } }');
    const actor: Actor = { accountId: me.person.id, displayName: me.person.displayName, labId: lab.labId, roles: ['FIELD_ENGINEER'], token: null };
    await server.served.close();
    closed = true;
    const letGo = await holdRefusals();
    await again(actor, input.id);
    const first = worker();
    await sees(input.id, ({ outcomes }) => outcomes === BARE[1]);
    await standsBeforeRefusal();
    first.kill('SIGKILL');
    await new Promise((resolve) => { first.once('exit', resolve); });
    await letGo();
    const left = await seen(input.id);
    expect(left).toMatchObject({ state: 'RUNNING', outcomes: BARE[1] });
    const second = worker();
    const done = await sees(input.id, ({ state }) => state === 'DONE');
    expect(done.attempt).toBeGreaterThan(left.attempt);
    await requireWhole(input.id);
    second.kill('SIGKILL');
  });
});

/** As the API does it, which is gone by now. */
async function again(actor: Actor, jobId: string): Promise<void> {
  const database = await Database.open(server.database.appUrl, entities, 2);
  const jobs = new Jobs(new Announcer(server.database.appUrl));
  await database.write({ labId: lab.labId, accountId: actor.accountId }, (tx) => jobs.retry(tx, actor, jobId));
  await database.close();
}

function worker(): ChildProcess {
  const child = spawn(process.execPath, [join(packageRoot, 'apps/cli/bin/threadleaf.mjs'), 'work'], {
    stdio: ['ignore', 'ignore', 'inherit'],
    env: { ...process.env, NODE_OPTIONS: '', THREADLEAF_PREBUILT: '1', DATABASE_URL: server.database.appUrl, THREADLEAF_LEDGER_KEY: server.ledgerKey },
  });
  workers.push(child);
  return child;
}
