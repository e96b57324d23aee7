import { createHash } from 'node:crypto';
import pg from 'pg';
import { v7 as uuidv7 } from 'uuid';
import { furnishDiscs, openBenchLab } from './record.mjs';
import { withConnection, withProgram } from './server.mjs';
import { median, quantile, round } from './statistics.mjs';

const ROWS = 1_500;
const ROUNDS = 5;
const CLIENTS = [1, 8];
/** Recording may cost so much more than the same without ledger and lineage. */
const COST_TARGET = 1.5;
const TREE_SIZES = [1e3, 1e4, 1e5, 1e6];
const PROOFS = 200;
const PACK_WEIGHINGS = 10_000;

/**
 * What being provable costs: recording with and without, entries placed a second, proofs by size of the ledger, and a pack
 * verified. The server is held still meanwhile; its own statements and functions run here.
 */
export async function run({ log }) {
  const result = await withProgram({ demo: false }, async (server) => {
    const lab = await openBenchLab(server);
    const [discs] = await furnishDiscs(server, lab, 1);
    server.pause();
    try {
      const { cost, sequenced } = await costAndSequencing(server, lab, discs, log);
      return { cost, sequenced, proofs: await proofsBySize(server, log) };
    } finally {
      server.resume();
    }
  });
  return { ...result, pack: await verifyLargePack(log) };
}

async function modules() {
  const [{ Database }, { entities }, { Weighing }, { insertPlan }, { Sequencer }, { signerOf }, { nodeReader }] = await Promise.all([
    import('../../dist/apps/api/src/platform/database/database.js'),
    import('../../dist/apps/api/src/entities.js'),
    import('../../dist/apps/api/src/modules/bench/bench.entity.js'),
    import('../../dist/apps/api/src/platform/ledger/recorder.js'),
    import('../../dist/apps/api/src/platform/ledger/sequencer.js'),
    import('../../dist/apps/api/src/platform/ledger/signer.js'),
    import('../../dist/apps/api/src/platform/ledger/ledger-store.js'),
  ]);
  return { Database, entities, Weighing, insertPlan, Sequencer, signerOf, nodeReader };
}

/** Weighings by one transaction each, with the recorder's statement and as a bare row, in turns; then the places for all of them. */
async function costAndSequencing(server, lab, discs, log) {
  const { Database, entities, Weighing, insertPlan, Sequencer, signerOf } = await modules();
  const database = await Database.open(server.appUrl, entities, 2);
  try {
    const metadata = database.dataSource.getMetadata(Weighing);
    const { sql, columns } = insertPlan(metadata);
    const names = columns.map(({ property }) => metadata.findColumnWithPropertyName(property).databaseName);
    const bare = `INSERT INTO weighing (lab_id, id, recorded_at, recorded_by, content_hash, ${names.join(', ')})
      VALUES ($1, $2, now(), $3, $4${columns.map(({ json }, i) => `, $${i + 5}${json ? '::jsonb' : ''}`).join('')})`;
    const cost = [];
    for (const clients of CLIENTS) {
      const rounds = { with: [], without: [] };
      for (let i = 0; i < ROUNDS; i += 1) {
        rounds.with.push(await insertMs(server, lab, discs, clients, columns, sql, true));
        rounds.without.push(await insertMs(server, lab, discs, clients, columns, bare, false));
      }
      const [withMs, withoutMs] = [median(rounds.with), median(rounds.without)];
      const times = round(withMs / withoutMs, 2);
      cost.push({ clients, withMs: round(withMs, 3), withoutMs: round(withoutMs, 3), times, target: COST_TARGET, met: times <= COST_TARGET });
      log(`ledger, ${clients} clients: a weighing recorded with ledger and lineage ${round(withMs, 3)} ms, bare row ${round(withoutMs, 3)} ms: ${times} times (at most ${COST_TARGET})`);
    }
    const sequencer = new Sequencer(database, signerOf(Buffer.alloc(32, 5).toString('base64')), () => undefined);
    const waiting = await withConnection(server.ownerUrl, async (client) => Number((await client.query('SELECT count(*) FROM ledger_pending')).rows[0].count));
    const begun = performance.now();
    await sequencer.settle(lab.labId);
    const seconds = (performance.now() - begun) / 1000;
    await sequencer.close();
    const sequenced = { entries: waiting, seconds: round(seconds), perSecond: Math.round(waiting / seconds) };
    log(`ledger, ${waiting} entries given their places and signed: ${sequenced.perSecond} a second`);
    return { cost, sequenced };
  } finally {
    await database.close();
  }
}

/** Mean time of one transaction, ms, in a round of ROWS over so many connections. */
async function insertMs({ appUrl }, { labId, accountId, balanceId }, discs, clients, columns, text, recorded) {
  const fence = `BEGIN; SET LOCAL threadleaf.lab_id = '${labId}'; SET LOCAL threadleaf.account_id = '${accountId}'`;
  const connections = await Promise.all(Array.from({ length: clients }, async () => {
    const client = new pg.Client({ connectionString: appUrl });
    await client.connect();
    return client;
  }));
  try {
    const one = async (client, n) => {
      const { id: discId, dryingRunId } = discs[n % discs.length];
      const id = uuidv7();
      const content = {
        discId, state: 'DRYING', observedAt: new Date(), observedOffsetMin: 0, massText: '60.32', massUnit: 'mg', massMg: '60.32', balanceId, dryingRunId,
        entryMode: 'LINE', rawLine: '+ 60.32 mg S', flags: '[]',
      };
      const own = columns.map(({ property }) => content[property] ?? null);
      const hash = createHash('sha256').update(id).digest();
      const values = recorded
        ? [labId, id, accountId, hash, uuidv7(), 'record', null, ['disc', 'instrument', 'drying_run'], [discId, balanceId, dryingRunId], ['of', 'with', 'in'], null, ...own]
        : [labId, id, accountId, hash, ...own];
      await client.query(fence);
      await client.query({ name: recorded ? 'recorded' : 'bare', text, values });
      await client.query('COMMIT');
    };
    await Promise.all(connections.map((client) => one(client, 0)));
    let next = 0;
    const begun = performance.now();
    await Promise.all(connections.map(async (client) => { while (next < ROWS) await one(client, next++); }));
    return ((performance.now() - begun) * clients) / ROWS;
  } finally {
    await Promise.all(connections.map((client) => client.end()));
  }
}

/** Proofs out of stored nodes of a ledger of a million leaves, each checked against the root of its size. */
async function proofsBySize(server, log) {
  const { Database, entities, nodeReader } = await modules();
  const { proveInclusion, rootAt, verifyInclusion } = await import('#libs/ledger');
  const sha256 = (bytes) => createHash('sha256').update(bytes).digest();
  const largest = Math.max(...TREE_SIZES);
  const treeLab = uuidv7();
  await withConnection(server.ownerUrl, async (client) => {
    await client.query("INSERT INTO lab (id, name) VALUES ($1, 'Tree lab')", [treeLab]);
    await client.query('BEGIN');
    await client.query(`SET LOCAL threadleaf.lab_id = '${treeLab}'`);
    await client.query(`INSERT INTO ledger_node SELECT $1, 0, n, sha256('\\x00'::bytea || convert_to(n::text, 'UTF8')) FROM generate_series(0, $2::bigint - 1) n`, [treeLab, largest]);
    for (let level = 1; 2 ** level <= largest; level += 1) {
      await client.query(
        `INSERT INTO ledger_node SELECT $1, $2, l.index / 2, sha256('\\x01'::bytea || l.hash || r.hash) FROM ledger_node l
         JOIN ledger_node r ON r.lab_id = $1 AND r.level = $2 - 1 AND r.index = l.index + 1 WHERE l.lab_id = $1 AND l.level = $2 - 1 AND l.index % 2 = 0`, [treeLab, level],
      );
    }
    await client.query('COMMIT');
    await client.query('VACUUM (ANALYZE) ledger_node');
  });
  const database = await Database.open(server.appUrl, entities, 1);
  const results = [];
  try {
    for (const size of TREE_SIZES) {
      const { tx, close } = await database.openRead({ labId: treeLab, accountId: null });
      const read = nodeReader(tx);
      const root = await rootAt(read, size, sha256);
      const [provedMs, verifiedMs, bytes] = [[], [], []];
      for (let i = 0; i < PROOFS; i += 1) {
        const index = Math.floor((i * size) / PROOFS);
        const begun = performance.now();
        const proof = await proveInclusion(read, index, size, sha256);
        const proved = performance.now();
        const leafHash = sha256(Buffer.concat([Buffer.of(0), Buffer.from(String(index))]));
        const verdict = verifyInclusion({ index, size, leafHash, proof, root }, sha256);
        verifiedMs.push(performance.now() - proved);
        // A fast proof that does not hold is none.
        if (!verdict.holds) throw new Error(`the proof of entry ${index} of ${size} does not hold: ${verdict.why}`);
        provedMs.push(proved - begun);
        bytes.push(proof.length * 32);
      }
      await close();
      const result = { entries: size, proveMs: round(median(provedMs), 3), proveP99Ms: round(quantile(provedMs, 0.99), 3), verifyMs: round(median(verifiedMs), 3), bytesMost: Math.max(...bytes) };
      results.push(result);
      log(`ledger, proof in ${size} entries: ${result.proveMs} ms (p99 ${result.proveP99Ms} ms), ${result.bytesMost} bytes at most, verified in ${result.verifyMs} ms`);
    }
  } finally {
    await database.close();
  }
  return results;
}

/** A pack of a decision over ten thousand weighings, zipped, read and verified as `threadleaf verify` does it. */
async function verifyLargePack(log) {
  const ledger = await import('#libs/ledger');
  const labId = uuidv7();
  const recordedBy = uuidv7();
  const origin = `bench.example/ledger/${labId}`;
  const key = ledger.signingKeyOf(origin, new Uint8Array(32).fill(11));
  const disc = { kind: 'disc', id: uuidv7(), labId, recordedBy, label: 'D-1', uses: [] };
  const weighings = Array.from({ length: PACK_WEIGHINGS }, (_, n) => (
    { kind: 'weighing', id: uuidv7(), labId, recordedBy, massMg: (70 - n / 1000).toFixed(3), state: 'DRYING', uses: [{ kind: 'disc', id: disc.id, role: 'of' }] }));
  const decision = { kind: 'decision', id: uuidv7(), labId, recordedBy, action: 'IRRIGATE', uses: weighings.map(({ id }) => ({ kind: 'weighing', id, role: 'basis' })) };
  const records = [disc, ...weighings, decision];
  const nodes = new Map();
  let frontier = ledger.EMPTY_FRONTIER;
  const entries = records.map((record) => ({
    version: 1, labId, id: uuidv7(), actorId: recordedBy, action: 'record', subjectKind: record.kind, subjectId: record.id,
    contentHash: ledger.contentHashHex(record), recordedAt: '2026-06-03T09:00:00.000Z',
  }));
  for (const entry of entries) {
    const step = ledger.appendLeaf(frontier, ledger.leafHash(ledger.entryLeaf(entry)));
    for (const { level, index, hash } of step.nodes) nodes.set(`${level}/${index}`, hash);
    frontier = step.frontier;
  }
  const read = (places) => Promise.resolve(places.map(({ level, index }) => nodes.get(`${level}/${index}`)));
  const proven = [];
  for (const [index, entry] of entries.entries()) proven.push({ entry, index, proof: await ledger.proveInclusion(read, index, entries.length) });
  const column = (name, type = 'string') => ({ name, type, title: name, description: `The ${name} of the record.` });
  const contents = {
    subject: { kind: 'decision', id: decision.id }, labId, origin, createdAt: '2026-06-04T09:00:00.000Z', madeBy: 'Threadleaf bench',
    title: 'Decision', description: 'Over ten thousand weighings.', licence: 'For the bench.', records,
    edges: records.flatMap(({ kind, id, uses }) => uses.map((use) => ({ fromKind: kind, fromId: id, toKind: use.kind, toId: use.id, role: use.role }))),
    entries: proven, agents: [{ id: recordedBy, kind: 'person', name: 'Bench' }],
    checkpoint: ledger.signCheckpoint({ origin, size: frontier.size, root: ledger.frontierRoot(frontier) }, key),
    keys: [{ key: ledger.verifierKeyOf(origin, key.publicKey), firstSize: 0, lastSize: null }], consistency: [],
    tables: [{ kind: 'weighing', title: 'Weighings', description: 'Masses.', columns: [column('kind'), column('id'), column('labId'), column('recordedBy'), column('uses', 'array'), column('massMg', 'number'), column('state')] }],
    reading: [],
  };
  const zip = ledger.zipPack(ledger.sealPack(ledger.buildPack(contents), origin, key));
  const keys = [{ key: ledger.verifierKeyOf(origin, key.publicKey), firstSize: 0, lastSize: null }];
  const timesMs = [];
  for (let i = 0; i < 3; i += 1) {
    const begun = performance.now();
    const findings = ledger.verifyPack(ledger.unzipPack(zip), { keys });
    timesMs.push(performance.now() - begun);
    if (!ledger.packHolds(findings)) throw new Error(`the pack does not hold: ${JSON.stringify(findings.filter(({ status }) => status !== 'holds').slice(0, 3))}`);
  }
  const result = { weighings: PACK_WEIGHINGS, bytes: zip.length, verifySeconds: round(median(timesMs) / 1000) };
  log(`ledger, pack with ${PACK_WEIGHINGS} weighings: ${(zip.length / 1e6).toFixed(1)} MB, verified in ${result.verifySeconds} s`);
  return result;
}
