import { randomBytes } from 'node:crypto';
import { mkdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { OperatorFailure, codeOf } from './failure.js';

/** Of the key in the data folder; kept beside the database's folder and never in it, so that a copy of one is not a copy of both. */
const FILE = 'ledger.key';

/**
 * The secret that signs checkpoints: THREADLEAF_LEDGER_KEY, else the file that THREADLEAF_LEDGER_KEY_FILE names, else
 * the file in the data folder, which is made with a key of its own the first time. Who holds it can sign another history: it belongs to whoever runs the server, and a copy of
 * it to a safe place.
 */
export function ledgerKeyFor(dataDir: string, say: (line: string) => void, env: NodeJS.ProcessEnv = process.env): string {
  const given = env['THREADLEAF_LEDGER_KEY'];
  if (given) return given;
  const named = env['THREADLEAF_LEDGER_KEY_FILE'];
  if (named) return keyIn(named);
  const file = join(dataDir, FILE);
  try {
    const key = readFileSync(file, 'utf8');
    if ((statSync(file).mode & 0o077) !== 0) {
      throw new OperatorFailure(`Others can read the ledger key ${file}, and could sign with it. Close it with chmod 600, or change keys if it was seen.`);
    }
    return key;
  } catch (error) {
    if (codeOf(error) !== 'ENOENT') throw error;
  }
  const made = randomBytes(32).toString('base64');
  try {
    mkdirSync(dataDir, { recursive: true });
    writeFileSync(file, `${made}\n`, { mode: 0o600, flag: 'wx' });
  } catch (error) {
    throw new OperatorFailure(`The ledger key cannot be kept in ${file} (${codeOf(error) ?? 'unknown'}). Choose another data folder, or give THREADLEAF_LEDGER_KEY.`, { cause: error });
  }
  say(`Made the key that signs the ledger: ${file}. Keep a copy in a safe place.`);
  return made;
}

/** A file that whoever runs the server handed in, as a container's secret is; its mode is theirs to choose. */
function keyIn(file: string): string {
  try {
    return readFileSync(file, 'utf8').trim();
  } catch (error) {
    throw new OperatorFailure(`The file of THREADLEAF_LEDGER_KEY_FILE, ${file}, cannot be read (${codeOf(error) ?? 'unknown'}).`, { cause: error });
  }
}
