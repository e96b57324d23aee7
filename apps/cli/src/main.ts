import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Command } from 'commander';
import * as backup from './commands/backup.js';
import * as build from './commands/build.js';
import * as check from './commands/check.js';
import * as checkpoint from './commands/checkpoint.js';
import * as importFile from './commands/import.js';
import * as lab from './commands/lab.js';
import * as listen from './commands/listen.js';
import * as migrate from './commands/migrate.js';
import * as pack from './commands/pack.js';
import * as recompute from './commands/recompute.js';
import * as simulateInstrument from './commands/simulate-instrument.js';
import * as share from './commands/share.js';
import * as start from './commands/start.js';
import * as work from './commands/work.js';
import * as thread from './commands/thread.js';
import * as token from './commands/token.js';
import * as touched from './commands/touched.js';
import * as verifier from './commands/verifier.js';
import * as verify from './commands/verify.js';
import { OperatorFailure, messageOf } from './failure.js';
import { packageRoot } from './package-root.js';

const commands = [start, lab, importFile, thread, checkpoint, check, recompute, touched, token, listen, simulateInstrument, share, pack, verify, verifier, backup, build, migrate, work];

/** Runs one command line, e.g. `main(['start', '--port', '4180'])`. What fails is printed and sets the exit code. */
export async function main(args: readonly string[]): Promise<void> {
  const { version } = JSON.parse(readFileSync(join(packageRoot, 'package.json'), 'utf8')) as { version: string };
  const program = new Command('threadleaf')
    .description('Lab data system from leaf-disc weighings to field irrigation decisions, with a provable thread back.')
    .version(version)
    .showHelpAfterError('(threadleaf --help lists the commands)');
  for (const command of commands) command.register(program);
  try {
    await program.parseAsync([...args], { from: 'user' });
  } catch (error) {
    process.exitCode = 1;
    if (error instanceof OperatorFailure) console.error(`threadleaf: ${messageOf(error)}`);
    else console.error(error);
  }
}
