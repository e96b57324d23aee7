import { fillBackground } from './background.mjs';
import { median, round } from './statistics.mjs';
import { ask, signIn, withConnection, withProgram } from './server.mjs';

const SIZE = 100_000;
const REPEATS = 7;
const TARGET_MS = 1_000;

const PAGE = `query ($exception: LedgerException, $kind: String, $action: String) { ledger(first: 50, exception: $exception, subjectKind: $kind, action: $action) {
  nodes { id recordedAt person { displayName } action subjectKind subjectId contentHash reason place label summary exceptions } } }`;
const COUNTS = '{ ledgerExceptions { exception count } }';

/** A page of the ledger under each filter, and the counts of all exceptions, as the Ledger screen asks, in a lab of so many weighings. */
export async function run({ log, size = SIZE }) {
  const { demoSignIns } = await import('../../dist/apps/cli/src/demo/ensure-demo.js');
  const { EXCEPTIONS } = await import('../../dist/apps/api/src/modules/thread/exceptions.js');
  const { email, password } = demoSignIns().find(({ role }) => role === 'auditor');
  return withProgram({ demo: true }, async (server) => {
    const cookie = await signIn(server.url, email, password);
    const { me } = await ask(server.url, cookie, '{ me { lab { id } } }');
    const weighings = await withConnection(server.ownerUrl, (client) => fillBackground(client, me.lab.id, size));
    const questions = [
      ['newest', PAGE, {}], ['kind weighing', PAGE, { kind: 'weighing' }], ['kind decision', PAGE, { kind: 'decision' }], ['action retract', PAGE, { action: 'retract' }],
      ...EXCEPTIONS.map((exception) => [exception, PAGE, { exception }]),
      ['counts of all', COUNTS, {}],
    ];
    const figures = [];
    for (const [name, query, variables] of questions) {
      const times = [];
      for (let i = 0; i < REPEATS; i += 1) {
        const begun = performance.now();
        await ask(server.url, cookie, query, variables);
        times.push(performance.now() - begun);
      }
      figures.push({ name, medianMs: round(median(times), 0) });
      log(`ledger, ${weighings} weighings, ${name}: ${figures.at(-1).medianMs} ms`);
    }
    const slowest = Math.max(...figures.map(({ medianMs }) => medianMs));
    return { weighings, figures, slowestMs: slowest, target: TARGET_MS, met: slowest <= TARGET_MS };
  });
}
