import { fillBackground } from './background.mjs';
import { median, quantile, round } from './statistics.mjs';
import { ask, signIn, withConnection, withProgram } from './server.mjs';

const SIZES = [1_000, 100_000, 1_000_000];
const WARM_UP = 5;
const REPEATS = 30;
const TARGET_TIMES_BARE = 2;
const TARGET_GROWTH = 1.5;

/** What the Thread's screen asks of each record. */
const THREAD = `query ($kind: String!, $id: UUID!) { thread(kind: $kind, id: $id, direction: DOWN) {
  truncated edges { fromId toId role }
  nodes { kind id label depth summary rawLine observedAt recordedAt recordedBy { id displayName } instrument instrumentStatusThen
    amendedBy { id reasonCode reason } stale contentHash remarks { code severity message } } } }`;

/**
 * The Thread of one decision of the demo lab, over GraphQL and by the same statements through bare `pg`, taking turns,
 * while the lab around it grows to so many weighings with their discs, runs, series, edges and ledger entries.
 */
export async function run({ log, sizes = SIZES }) {
  const { demoSignIns } = await import('../../dist/apps/cli/src/demo/ensure-demo.js');
  const { WALK, EDGES, describing } = await import('../../dist/apps/api/src/modules/thread/thread.repository.js');
  const { email, password } = demoSignIns().find(({ role }) => role === 'auditor');
  return withProgram({ demo: true }, async (server) => {
    const cookie = await signIn(server.url, email, password);
    const { me, ledger } = await ask(server.url, cookie, '{ me { lab { id } person { id } } ledger(first: 1, subjectKind: "decision") { nodes { subjectId } } }');
    const [labId, accountId, id] = [me.lab.id, me.person.id, ledger.nodes[0].subjectId];
    const byGraphql = async () => (await ask(server.url, cookie, THREAD, { kind: 'decision', id })).thread.nodes.length;
    const stages = [];
    for (const size of sizes) {
      const begun = performance.now();
      const weighings = await withConnection(server.ownerUrl, (client) => fillBackground(client, labId, size));
      log(`thread: the lab has ${weighings} weighings (${round((performance.now() - begun) / 1000, 0)} s to fill)`);
      const stage = await withConnection(server.appUrl, async (client) => {
        const byBare = () => bareThread(client, { labId, accountId, id, WALK, EDGES, describing });
        const records = await byGraphql();
        const bareRecords = await byBare();
        if (records !== bareRecords) throw new Error(`${records} records over GraphQL, ${bareRecords} by bare pg`);
        const [graphqlMs, bareMs] = await inTurns([byGraphql, byBare]);
        return { weighings, records, graphql: told(graphqlMs), bare: told(bareMs) };
      });
      stage.timesBare = round(stage.graphql.medianMs / stage.bare.medianMs, 2);
      stages.push({ ...stage, target: TARGET_TIMES_BARE, met: stage.timesBare < TARGET_TIMES_BARE });
      log(`thread, ${weighings} weighings in the lab, ${stage.records} records: GraphQL ${stage.graphql.medianMs} ms (p99 ${stage.graphql.p99Ms}), bare pg ${stage.bare.medianMs} ms, ${stage.timesBare} times bare`);
    }
    const growth = round(stages.at(-1).graphql.medianMs / stages[0].graphql.medianMs, 2);
    log(`thread: ${growth} times as long at ${stages.at(-1).weighings} as at ${stages[0].weighings} weighings (target ${TARGET_GROWTH})`);
    return { stages, growth, target: TARGET_GROWTH, met: growth <= TARGET_GROWTH };
  });
}

/** The service's own statements in one transaction, rows read and counted, nothing made of them. */
async function bareThread(client, { labId, accountId, id, WALK, EDGES, describing }) {
  await client.query(`BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY; SET LOCAL threadleaf.lab_id = '${labId}'; SET LOCAL threadleaf.account_id = '${accountId}'`);
  const { rows: reached } = await client.query(WALK.DOWN, [labId, 'decision', id]);
  const idsByKind = new Map();
  for (const { kind, id: recordId } of reached) idsByKind.set(kind, [...(idsByKind.get(kind) ?? []), recordId]);
  let described = 0;
  for (const [kind, ids] of idsByKind) described += (await client.query(describing(kind), [labId, ids])).rowCount;
  await client.query(EDGES, [labId, reached.map((record) => record.id)]);
  await client.query('ROLLBACK');
  return described;
}

async function inTurns(works) {
  const times = works.map(() => []);
  for (let repeat = -WARM_UP; repeat < REPEATS; repeat += 1) {
    for (const [i, work] of works.entries()) {
      const begun = performance.now();
      await work();
      if (repeat >= 0) times[i].push(performance.now() - begun);
    }
  }
  return times;
}

const told = (times) => ({ medianMs: round(median(times), 1), p99Ms: round(quantile(times, 0.99), 1) });
