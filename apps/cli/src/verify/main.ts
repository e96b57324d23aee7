import { parseArgs } from 'node:util';
import { InputError } from '#libs/quantity';
import { tellFindings } from './tell-findings.js';
import { verifyFile } from './verify-file.js';

/**
 * The verifier as a program of its own. The build bundles it with the pure libraries into dist/verify.mjs: one file that
 * runs with Node alone, on a machine that never saw the rest.
 */
const HELP = `Checks an evidence pack of Threadleaf, with no server, no database and no network.

  node verify.mjs <pack.zip> [--checkpoint <file>] [--key <text>] [--json]

  --checkpoint  a checkpoint of the ledger that you kept: the pack must agree with it
  --key         the ledger's key as the lab published it, name+id+base64
  --json        print the findings as JSON

Ends with code 0 when nothing fails, 1 when something does, 2 when it was asked wrongly.`;

function main(): number {
  try {
    const { values, positionals } = parseArgs({
      allowPositionals: true,
      options: { checkpoint: { type: 'string' }, key: { type: 'string' }, json: { type: 'boolean', default: false }, help: { type: 'boolean', default: false } },
    });
    const [pack] = positionals;
    if (values.help || pack === undefined || positionals.length > 1) {
      console.log(HELP);
      return values.help ? 0 : 2;
    }
    const { checkpoint, key, json } = values;
    const { holds, findings } = verifyFile({ pack, ...(checkpoint !== undefined && { checkpoint }), ...(key !== undefined && { key }) });
    console.log(json ? JSON.stringify({ holds, findings }, null, 2) : tellFindings(findings).join('\n'));
    return holds ? 0 : 1;
  } catch (error) {
    // What the reader gave wrongly: an unknown option, a file that is not there, a key that is none.
    if (!(error instanceof InputError) && !(error instanceof TypeError)) throw error;
    console.error(error.message);
    return 2;
  }
}

process.exitCode = main();
