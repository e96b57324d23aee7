import type { Command } from 'commander';
import { requestedDataFolder } from '../database/data-folder.js';
import { databaseFromEnvironment, openServedDatabase } from '../database/external.js';
import { OperatorFailure } from '../failure.js';
import { ledgerKeyFor } from '../ledger-key.js';
import { loadServer } from '../server-module.js';
import { stopOnSignal } from '../stop-on-signal.js';

/** A worker has no connection of its own that would keep it running between two rounds. */
const AWAKE_MS = 3_600_000;

/** For installations with a PostgreSQL of their own: what happens behind requests, in a process that serves none. */
export function register(program: Command): void {
  program
    .command('work')
    .description('run jobs, place ledger entries and sign checkpoints on DATABASE_URL, beside the processes that serve')
    .option('--data <folder>', 'folder of the ledger key (THREADLEAF_DATA; else ./data)')
    .action(async ({ data }: { data?: string }) => {
      const { appUrl } = databaseFromEnvironment();
      if (!appUrl) throw new OperatorFailure('DATABASE_URL is not set: it names the database to work on.');
      const stopping = stopOnSignal(console.error);
      const database = await openServedDatabase(appUrl);
      const server = await loadServer();
      const working = await server.work({ databaseUrl: database.appUrl, ledgerKey: ledgerKeyFor(requestedDataFolder(data), console.error) });
      const awake = setInterval(() => undefined, AWAKE_MS);
      stopping.onStop(async () => {
        clearInterval(awake);
        await working.close();
      });
      console.log('Threadleaf is at work on jobs and the ledger. Ctrl-C stops it.');
    });
}
