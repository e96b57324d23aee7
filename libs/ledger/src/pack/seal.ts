import { InputError } from '#libs/quantity';
import { isValidAt, type LedgerKey } from '../checkpoint.js';
import { defaultSha256, toHex, type Sha256 } from '../content-hash.js';
import type { Verdict } from '../merkle-proof.js';
import { formatSignedNote, parseSignedNote, signNote, signersOf, type SigningKey } from '../signed-note.js';
import { PATHS, type PackFiles } from './layout.js';
import { utf8Bytes } from '../utf8.js';

/**
 * The seal of a pack: a note by the ledger's key that names the hash of the manifest, which names those of all other
 * files. The ledger proves the records; the seal says that the rest, the PDF, the names and units, is as the lab made
 * it, whoever carried the pack since. Its second line is no number, so that it never passes for a checkpoint.
 *
 * @returns the files with the seal among them
 */
export function sealPack(files: PackFiles, origin: string, key: SigningKey, sha256: Sha256 = defaultSha256): PackFiles {
  const note = signNote(sealText(files, origin, sha256), key);
  return new Map([...files, [PATHS.seal, utf8Bytes(formatSignedNote(note))]]);
}

/**
 * Is the pack as one of these keys sealed it?
 *
 * @param size entries of the pack's checkpoint, at which the key must be valid
 */
export function verifySeal(
  files: PackFiles, seal: string, origin: string, keys: readonly LedgerKey[], size: number, sha256: Sha256 = defaultSha256,
): Verdict {
  try {
    const note = parseSignedNote(seal);
    if (note.text !== sealText(files, origin, sha256)) return { holds: false, why: 'the seal is of another manifest' };
    const { signed, forged } = signersOf(note, keys.map(({ key }) => key));
    if (forged.length > 0) return { holds: false, why: 'the signature of the seal is false' };
    const valid = keys.some((known) => signed.includes(known.key) && isValidAt(known, size));
    return valid ? { holds: true } : { holds: false, why: 'no key valid for this ledger signed the seal' };
  } catch (error) {
    if (error instanceof InputError) return { holds: false, why: error.message };
    throw error;
  }
}

function sealText(files: PackFiles, origin: string, sha256: Sha256): string {
  const manifest = files.get(PATHS.manifest);
  if (!manifest) throw new InputError('BAD_PACK', PATHS.manifest, 'the pack lacks this file', 'Build the pack first.');
  return `${origin}\npack manifest sha256 ${toHex(sha256(manifest))}\n`;
}
