import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Command } from 'commander';
import { OperatorFailure, codeOf } from '../failure.js';
import { openSession, withSession, type SessionOptions } from '../session.js';

interface Checkpoint {
  readonly size: number;
  readonly text: string;
}

export function register(program: Command): void {
  withSession(program
    .command('checkpoint')
    .description('print the newest signed checkpoint of the ledger, or write it into a folder, to be kept where the lab cannot reach it')
    .option('--into <folder>', 'folder to write it into, as checkpoint-<entries>.txt'))
    .action(checkpoint);
}

async function checkpoint(options: SessionOptions & { readonly into?: string }): Promise<void> {
  const client = await openSession(options);
  const { checkpoint: newest } = await client.ask<{ checkpoint: Checkpoint | null }>('{ checkpoint { size text } }');
  if (!newest) throw new OperatorFailure('The ledger has no signed checkpoint yet. It gets one some seconds after the first record.');
  if (options.into === undefined) {
    process.stdout.write(newest.text);
    return;
  }
  const file = join(options.into, `checkpoint-${newest.size}.txt`);
  try {
    // One size has one checkpoint: a file that is there already is the same, and is left as it was kept.
    writeFileSync(file, newest.text, { flag: 'wx' });
  } catch (error) {
    if (codeOf(error) !== 'EEXIST') throw new OperatorFailure(`${file} cannot be written (${codeOf(error)}). Choose another folder with --into.`, { cause: error });
  }
  console.log(file);
}
