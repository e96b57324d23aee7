import { readFileSync } from 'node:fs';
import { InputError } from '#libs/quantity';
import { packHolds, parseVerifierKey, unzipPack, verifyPack, type Finding, type LedgerKey } from '#libs/ledger';

export interface VerifyOrder {
  readonly pack: string;
  /** File of a checkpoint that the auditor kept. */
  readonly checkpoint?: string;
  /** The ledger's first key as the lab published it, name+id+base64. */
  readonly key?: string;
}

export interface Verified {
  readonly holds: boolean;
  readonly findings: readonly Finding[];
}

/**
 * Checks a pack with nothing but its file and what the auditor holds. Shares only the pure libraries with the server.
 *
 * @throws InputError for a key or file that the auditor gave wrongly; whatever is wrong with the pack is a finding
 */
export function verifyFile({ pack, checkpoint, key }: VerifyOrder): Verified {
  const kept = checkpoint === undefined ? undefined : new TextDecoder().decode(fileOf('checkpoint', checkpoint));
  const keys: LedgerKey[] | undefined = key === undefined ? undefined : [{ key: parseVerifierKey(key.trim()), firstSize: 0, lastSize: null }];
  const zip = fileOf('pack', pack);
  let findings: readonly Finding[];
  try {
    findings = verifyPack(unzipPack(zip), { ...(kept !== undefined && { checkpoint: kept }), ...(keys && { keys }) });
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    findings = [{ check: 'form', status: 'fails', about: pack, says: `The pack cannot be read. ${error.message}` }];
  }
  return { holds: packHolds(findings), findings };
}

function fileOf(field: string, path: string): Uint8Array {
  try {
    return readFileSync(path);
  } catch (error) {
    throw new InputError('NO_FILE', field, `the file ${path} cannot be read (${(error as { code?: string }).code ?? 'unknown'})`, 'Give the path of a file that you may read.');
  }
}
