/** One round of load, as a process of its own: gets a job by message, answers with the rate and every latency. */
import { createHash } from 'node:crypto';
import { Agent, request } from 'node:http';
import pg from 'pg';
import { v7 as uuidv7 } from 'uuid';

const FIRST = Date.parse('2026-06-03T09:05:00Z');
const RECORD = `mutation RecordWeighing($input: RecordWeighingInput!) {
  recordWeighing(input: $input) { weighing { id } replayed problem { code field message remedy } flags { code severity message } } }`;

process.once('message', async (job) => {
  try {
    process.send(await measure(job));
  } catch (error) {
    process.send({ failed: error.message });
  }
});

async function measure(job) {
  const senders = await Promise.all(Array.from({ length: job.clients }, () => (job.kind === 'graphql' ? graphqlSender(job) : bareSender(job))));
  const latenciesMs = [];
  const begin = performance.now() + job.warmUpMs;
  const end = begin + job.measuredMs;
  await Promise.all(senders.map(async ({ send }, client) => {
    for (const weighing of course(job, client)) {
      const sent = performance.now();
      if (sent >= end) return;
      await send(weighing);
      const now = performance.now();
      if (sent >= begin && now <= end) latenciesMs.push(now - sent);
    }
    throw new Error('the discs of this client were used up: give it more');
  }));
  await Promise.all(senders.map(({ close }) => close()));
  return { perSecond: latenciesMs.length / (job.measuredMs / 1000), latenciesMs };
}

/** One client's weighings: disc after disc, each losing a little every five minutes. */
function* course({ discs, weighingsADisc }, client) {
  for (const disc of discs[client]) {
    for (let k = 0; k < weighingsADisc; k += 1) {
      yield { id: uuidv7(), discId: disc.id, dryingRunId: disc.dryingRunId, massText: (68 - 1.1 * k).toFixed(2), observedAt: new Date(FIRST + k * 300_000) };
    }
  }
}

function graphqlSender({ url, cookie, balanceId }) {
  const agent = new Agent({ keepAlive: true, maxSockets: 1 });
  const { hostname, port } = new URL(url);
  const send = ({ id, discId, dryingRunId, massText, observedAt }) => {
    const input = { id, discId, state: 'DRYING', observedAt: observedAt.toISOString(), massText, massUnit: 'mg', balanceId, dryingRunId, entryMode: 'LINE', rawLine: `+ ${massText} mg S` };
    const body = JSON.stringify({ query: RECORD, variables: { input } });
    return new Promise((resolve, reject) => {
      const headers = { 'content-type': 'application/json', 'content-length': Buffer.byteLength(body), cookie };
      const sent = request({ agent, hostname, port, path: '/graphql', method: 'POST', headers }, (response) => {
        let text = '';
        response.setEncoding('utf8').on('data', (chunk) => { text += chunk; }).once('error', reject).once('end', () => {
          // A refusal is quicker than a record: one would make the figures worthless.
          const { data, errors } = JSON.parse(text);
          const problem = errors?.[0]?.message ?? data?.recordWeighing.problem?.message;
          if (problem || data.recordWeighing.replayed) reject(new Error(problem ?? 'a weighing counted as a replay'));
          else resolve();
        });
      });
      sent.once('error', reject).end(body);
    });
  };
  return { send, close: async () => agent.destroy() };
}

/** The transaction of the recorder without anything around it. */
async function bareSender({ url, labId, accountId, balanceId, sql }) {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  const fence = `BEGIN; SET LOCAL threadleaf.lab_id = '${labId}'; SET LOCAL threadleaf.account_id = '${accountId}'`;
  const send = async ({ id, discId, dryingRunId, massText, observedAt }) => {
    const content = {
      discId, state: 'DRYING', observedAt, observedOffsetMin: 0, massText, massUnit: 'mg', massMg: massText, balanceId, dryingRunId,
      ovenCycleId: null, dryingImportId: null, entryMode: 'LINE', rawLine: `+ ${massText} mg S`, flags: '[]', flagAnswer: null,
    };
    const parameters = [
      labId, id, accountId, createHash('sha256').update(id).digest(), uuidv7(), 'record', null,
      ['disc', 'instrument', 'drying_run'], [discId, balanceId, dryingRunId], ['of', 'with', 'in'], null,
      ...sql.columns.map((column) => {
        if (!(column in content)) throw new Error(`The weighing has a new column, ${column}: give it here too.`);
        return content[column];
      }),
    ];
    await client.query(fence);
    const { rowCount } = await client.query(sql.text, parameters);
    await client.query('COMMIT');
    if (rowCount !== 1) throw new Error('a weighing was not inserted');
  };
  return { send, close: () => client.end() };
}
