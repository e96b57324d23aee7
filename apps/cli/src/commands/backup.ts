import { rmSync } from 'node:fs';
import type { Command } from 'commander';
import { InputError } from '#libs/quantity';
import { reachDatabase, type DatabaseOptions } from '../database/reach.js';
import { OperatorFailure, codeOf } from '../failure.js';
import { loadServer } from '../server-module.js';
import { readKept, tellLab } from './check.js';

interface BackupOptions extends DatabaseOptions {
  readonly out?: string;
}

interface RestoreOptions extends DatabaseOptions {
  readonly checkpoint: readonly string[];
}

export function register(program: Command): void {
  withDatabase(program
    .command('backup')
    .description('write the whole database into one file, as it is at one moment; people may work meanwhile')
    .option('--out <file>', 'where to write it; a name with the time in this folder when not given')
    .addHelpText('after', '\nThe key that signs the ledger is not in it: keep a copy of that too, in another place.'))
    .action(backup);
  withDatabase(program
    .command('restore')
    .description('restore a backup into an empty database or a new data folder, then check the whole record')
    .argument('<file>', 'the backup')
    .option('--checkpoint <file...>', 'checkpoints that were kept outside, which the restored ledger must agree with', [])
    .addHelpText('after', '\nEnds with code 1 when anything in the restored record does not hold.'))
    .action(restore);
}

const withDatabase = (command: Command): Command => command
  .option('--data <folder>', 'data folder of the built-in PostgreSQL (THREADLEAF_DATA; else ./data)')
  .option('--database-url <url>', "a PostgreSQL of one's own instead of the built-in one (DATABASE_URL, owner in DATABASE_OWNER_URL)");

async function backup(options: BackupOptions): Promise<void> {
  const server = await loadServer();
  const database = await reachDatabase(options);
  const out = options.out ?? `threadleaf-${new Date().toISOString().replace(/[:.]/g, '-')}.backup`;
  try {
    const { rows, sha256 } = await server.writeBackup(database.appUrl, out);
    const total = Object.values(rows).reduce((sum, count) => sum + count, 0);
    console.log(`${out}: ${total} rows of ${Object.keys(rows).length} tables, SHA-256 of its lines ${sha256}`);
  } catch (error) {
    if (codeOf(error) === 'EEXIST') throw new OperatorFailure(`${out} is there already and was left as it is. Choose another name with --out.`);
    rmSync(out, { force: true });
    if (codeOf(error) === 'ENOENT' || codeOf(error) === 'EACCES' || codeOf(error) === 'ENOSPC') {
      throw new OperatorFailure(`${out} cannot be written (${codeOf(error)}). Choose another place with --out.`, { cause: error });
    }
    throw error;
  } finally {
    await database.stop();
  }
}

async function restore(file: string, options: RestoreOptions): Promise<void> {
  const kept = options.checkpoint.map(readKept);
  const server = await loadServer();
  const database = await reachDatabase(options);
  try {
    if (!database.ownerUrl) throw new OperatorFailure('A server is running on this data folder. Stop it, and restore into a new folder.');
    const { rows, createdAt, sha256 } = await server.restoreBackup(database.ownerUrl, file);
    const total = Object.values(rows).reduce((sum, count) => sum + count, 0);
    console.log(`Restored ${total} rows of the backup of ${createdAt}: as many in each of its ${Object.keys(rows).length} tables as its end tells, SHA-256 of its lines ${sha256} as it tells.`);
    const labs = await server.checkDatabase(database.appUrl, kept);
    for (const lab of labs) console.log(tellLab(lab).join('\n'));
    console.log('Before you start the server there, give it your copy of the ledger key (ledger.key in the data folder, or THREADLEAF_LEDGER_KEY): with another key it signs nothing.');
    if (labs.some(({ flaws }) => flaws.length > 0)) process.exitCode = 1;
  } catch (error) {
    if (error instanceof InputError) throw new OperatorFailure(error.message);
    throw error;
  } finally {
    await database.stop();
  }
}
