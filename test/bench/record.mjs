import { fork } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { v7 as uuidv7 } from 'uuid';
import { median, quantile, round } from './statistics.mjs';
import { ask, record as recordOne, signIn, withConnection, withProgram } from './server.mjs';

const CLIENTS = [1, 8, 32];
const REPEATS = 3;
const WARM_UP_MS = 1_000;
const MEASURED_MS = 4_000;
/** As many as a disc gets in three hours at one every five minutes. */
const WEIGHINGS_A_DISC = 36;
const DISCS_A_RUN = 12;
/** Enough for the fastest machine we know of; a round that runs out of discs fails, it does not repeat itself. */
const DISCS_A_CLIENT_AND_SECOND = { 1: 50, 8: 16, 32: 5 };
const TARGET = 0.4;
const DRAIN_MS = 120_000;

/**
 * Weighings recorded over GraphQL beside the same rows by bare `pg`: same transaction, same statements, same role, as
 * many connections as clients. The two take turns within one run; all load comes from a process of its own.
 */
export async function run({ log }) {
  return withProgram({ demo: false }, async (server) => {
    const lab = await openBenchLab(server);
    const sql = await insertText(server);
    const results = [];
    for (const clients of CLIENTS) {
      const rounds = { graphql: [], bare: [] };
      for (let repeat = 0; repeat < REPEATS; repeat += 1) {
        const [discs, bareDiscs] = [await furnishDiscs(server, lab, clients), await furnishDiscs(server, lab, clients)];
        await drain(server);
        rounds.graphql.push(await load({ kind: 'graphql', url: server.url, cookie: lab.cookie, balanceId: lab.balanceId, ...timing(clients), discs }));
        await drain(server);
        server.pause();
        try {
          const { labId, accountId, balanceId } = lab;
          rounds.bare.push(await load({ kind: 'bare', url: server.appUrl, labId, accountId, balanceId, sql, ...timing(clients), discs: bareDiscs }));
        } finally {
          server.resume();
        }
        await drain(server);
      }
      const [graphql, bare] = [summary(rounds.graphql), summary(rounds.bare)];
      const share = round(graphql.perSecond / bare.perSecond, 3);
      results.push({ clients, graphql, bare, share, target: TARGET, met: share >= TARGET });
      log(`record, ${clients} clients: GraphQL ${graphql.perSecond}/s (p50 ${graphql.p50Ms} ms, p99 ${graphql.p99Ms} ms), bare pg ${bare.perSecond}/s (p50 ${bare.p50Ms} ms, p99 ${bare.p99Ms} ms), share ${share}`);
    }
    return results;
  });
}

const timing = (clients) => ({ clients, warmUpMs: WARM_UP_MS, measuredMs: MEASURED_MS, weighingsADisc: WEIGHINGS_A_DISC });

export const BENCH_PERSON = { email: 'worker@bench.example', password: 'a password for the bench' };

/** One lab with one person of all roles that the bench needs, and one balance in check. */
export async function openBenchLab({ url, appUrl }) {
  const { openLabAt } = await import('../../dist/apps/api/src/main.js');
  const { email, password } = BENCH_PERSON;
  await openLabAt(appUrl, 'Bench lab', { email: 'first@bench.example', displayName: 'First', password: async () => password });
  const first = await signIn(url, 'first@bench.example', password);
  const input = { email, displayName: 'Worker', password, roles: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] };
  await ask(url, first, 'mutation ($input: AddMemberInput!) { addMember(input: $input) { problem { message } } }', { input });
  const cookie = await signIn(url, input.email, password);
  const { me } = await ask(url, cookie, '{ me { person { id } lab { id } } }');
  const [cropId, plantId, leafId, balanceId, meterId, rigId] = Array.from({ length: 6 }, () => uuidv7());
  const send = (...args) => recordOne(url, cookie, ...args);
  await send('recordCrop', 'RecordCropInput', { id: cropId, name: 'Fig' });
  await send('recordPlant', 'RecordPlantInput', { id: plantId, cropId, label: 'F1' });
  await send('recordLeaf', 'RecordLeafInput', { id: leafId, plantId, label: 'F1-L1' });
  await send('registerInstrument', 'RegisterInstrumentInput', { id: balanceId, kind: 'BALANCE', label: 'Balance 1', resolution: '0.01', repeatability: '0.02', unit: 'mg', checkEveryHours: 24 });
  await send('registerInstrument', 'RegisterInstrumentInput', { id: meterId, kind: 'POWER_METER', label: 'Meter 1', resolution: '0.1', repeatability: '0.5', unit: 'nW', checkEveryHours: 720 });
  await send('registerRig', 'RegisterRigInput', { id: rigId, label: 'Rig A', version: 1, source: 'halogen lamp', bandCentreNm: '1470', bandWidthNm: '12', meterId });
  return { labId: me.lab.id, accountId: me.person.id, cookie, leafId, balanceId, rigId };
}

let discsMade = 0;

/** Fresh discs in open drying runs, by client: a disc belongs to one pair of hands. */
export async function furnishDiscs({ url }, lab, clients) {
  const send = (...args) => recordOne(url, lab.cookie, ...args);
  const perClient = Math.ceil((DISCS_A_CLIENT_AND_SECOND[clients] * (WARM_UP_MS + MEASURED_MS)) / 1000);
  const all = Array.from({ length: perClient * clients }, () => ({ id: uuidv7(), dryingRunId: '' }));
  const label = () => `D${(discsMade += 1)}`;
  for (let start = 0; start < all.length; start += 16) {
    await Promise.all(all.slice(start, start + 16).map(({ id }) => send('recordDisc', 'RecordDiscInput', { id, leafId: lab.leafId, label: label(), diameterMm: '10' })));
  }
  for (let start = 0; start < all.length; start += DISCS_A_RUN) {
    const discs = all.slice(start, start + DISCS_A_RUN);
    const dryingRunId = uuidv7();
    for (const disc of discs) disc.dryingRunId = dryingRunId;
    await send('openDryingRun', 'OpenDryingRunInput', { id: dryingRunId, label: `R ${discs[0].id}`, rigId: lab.rigId, balanceId: lab.balanceId, discIds: discs.map(({ id }) => id), openedAt: '2026-06-03T09:00:00Z' });
  }
  return Array.from({ length: clients }, (_, client) => all.slice(client * perClient, (client + 1) * perClient));
}

/** What the recorder runs for a weighing: its very text. */
async function insertText({ appUrl }) {
  const [{ Database }, { entities }, { Weighing }, { insertPlan }] = await Promise.all([
    import('../../dist/apps/api/src/platform/database/database.js'),
    import('../../dist/apps/api/src/entities.js'),
    import('../../dist/apps/api/src/modules/bench/bench.entity.js'),
    import('../../dist/apps/api/src/platform/ledger/recorder.js'),
  ]);
  const database = await Database.open(appUrl, entities, 1);
  try {
    const { sql, columns } = insertPlan(database.dataSource.getMetadata(Weighing));
    return { text: sql, columns: columns.map(({ property }) => property) };
  } finally {
    await database.close();
  }
}

/** Runs one round of load in a child of its own. */
async function load(job) {
  const child = fork(fileURLToPath(new URL('./load.mjs', import.meta.url)), { execArgv: [] });
  child.send(job);
  const [answer] = await Promise.race([once(child, 'message'), once(child, 'exit').then(([code]) => [{ failed: `the load ended (${code})` }])]);
  child.kill();
  if (answer.failed) throw new Error(`${job.kind}, ${job.clients} clients: ${answer.failed}`);
  return answer;
}

/** Waits until all entries have their places: no round pays for the one before. */
async function drain({ ownerUrl }) {
  const end = Date.now() + DRAIN_MS;
  await withConnection(ownerUrl, async (client) => {
    for (;;) {
      const { rows } = await client.query('SELECT count(*)::int AS waiting FROM ledger_pending');
      if (rows[0].waiting === 0) return;
      if (Date.now() > end) throw new Error(`${rows[0].waiting} entries still wait for their places.`);
      await new Promise((resolve) => { setTimeout(resolve, 100); });
    }
  });
}

function summary(rounds) {
  return {
    perSecond: Math.round(median(rounds.map(({ perSecond }) => perSecond))),
    p50Ms: round(median(rounds.map(({ latenciesMs }) => quantile(latenciesMs, 0.5)))),
    p99Ms: round(median(rounds.map(({ latenciesMs }) => quantile(latenciesMs, 0.99)))),
    roundsPerSecond: rounds.map(({ perSecond }) => Math.round(perSecond)),
  };
}
