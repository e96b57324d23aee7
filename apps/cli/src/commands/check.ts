import { readFileSync } from 'node:fs';
import type { Command } from 'commander';
import { InputError } from '#libs/quantity';
import { reachDatabase, type DatabaseOptions } from '../database/reach.js';
import { OperatorFailure, codeOf } from '../failure.js';
import { loadServer, type ServerModule } from '../server-module.js';

type LabCheck = Awaited<ReturnType<ServerModule['checkDatabase']>>[number];

interface CheckOptions extends DatabaseOptions {
  readonly checkpoint: readonly string[];
}

/** Flaws told one by one; of a thousand the first few and the number say enough. */
const MOST_TOLD = 20;

export function register(program: Command): void {
  program
    .command('check')
    .description('recompute every hash of the record from the rows and compare it with the ledger; people may work meanwhile')
    .option('--checkpoint <file...>', 'checkpoints that were kept outside of the database, which must agree too', [])
    .option('--data <folder>', 'data folder of the built-in PostgreSQL (THREADLEAF_DATA; else ./data)')
    .option('--database-url <url>', "a PostgreSQL of one's own instead of the built-in one (DATABASE_URL, owner in DATABASE_OWNER_URL)")
    .addHelpText('after', '\nEnds with code 1 when anything does not hold.')
    .action(check);
}

async function check(options: CheckOptions): Promise<void> {
  const kept = options.checkpoint.map(readKept);
  const server = await loadServer();
  const database = await reachDatabase(options);
  try {
    const labs = await server.checkDatabase(database.appUrl, kept);
    if (labs.length === 0) console.log('There is no lab in this database.');
    for (const lab of labs) console.log(tellLab(lab).join('\n'));
    if (labs.some(({ flaws }) => flaws.length > 0)) process.exitCode = 1;
  } catch (error) {
    if (error instanceof InputError) throw new OperatorFailure(error.message);
    throw error;
  } finally {
    await database.stop();
  }
}

export function readKept(file: string): string {
  try {
    return readFileSync(file, 'utf8');
  } catch (error) {
    throw new OperatorFailure(`The checkpoint ${file} cannot be read (${codeOf(error)}).`);
  }
}

/** What was found in one lab, in plain words. */
export function tellLab({ name, size, signed, waiting, records, checkpoints, root, flaws }: LabCheck): string[] {
  const told = flaws.slice(0, MOST_TOLD).map(({ about, says }) => `  ${about}: ${says}`);
  return [
    `${name}: ${flaws.length === 0 ? 'holds' : 'DOES NOT HOLD'}`,
    `  ${records} records, ${size} entries in the ledger, ${checkpoints} checkpoints, root ${root}`,
    ...(waiting > 0 ? [`  ${waiting} entries wait for their place: nothing proves them yet`] : []),
    ...(signed < size ? [`  ${size - signed} entries are not covered by a signed checkpoint yet`] : []),
    ...told,
    ...(flaws.length > told.length ? [`  and ${flaws.length - told.length} more`] : []),
  ];
}
