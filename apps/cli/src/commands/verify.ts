import type { Command } from 'commander';
import { InputError } from '#libs/quantity';
import { OperatorFailure } from '../failure.js';
import { tellFindings } from '../verify/tell-findings.js';
import { verifyFile } from '../verify/verify-file.js';

export function register(program: Command): void {
  program
    .command('verify')
    .description('check an evidence pack, with no server and no database')
    .argument('<pack>', 'the ZIP')
    .option('--checkpoint <file>', 'a checkpoint of the ledger that you kept')
    .option('--key <text>', "the ledger's key as the lab published it, name+id+base64")
    .option('--json', 'print the findings as JSON', false)
    .addHelpText('after', '\nEnds with code 1 when anything does not hold.')
    .action(verify);
}

function verify(pack: string, options: { checkpoint?: string; key?: string; json: boolean }): void {
  try {
    const { holds, findings } = verifyFile({ pack, ...options });
    console.log(options.json ? JSON.stringify({ holds, findings }, null, 2) : tellFindings(findings).join('\n'));
    if (!holds) process.exitCode = 1;
  } catch (error) {
    if (error instanceof InputError) throw new OperatorFailure(error.message);
    throw error;
  }
}
