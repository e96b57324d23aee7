import { createCipheriv, createDecipheriv, hkdfSync, randomBytes } from 'node:crypto';

const ALGORITHM = 'aes-256-gcm';
const IV_BYTES = 12;
const TAG_BYTES = 16;

/** Closes small secrets so that the database alone does not show them. */
export interface Sealing {
  /** @param owner whose secret it is: sealed for one it does not open for another */
  seal(plain: string, owner: string): Buffer;
  /** Null where no key at hand opens it. */
  open(sealed: Buffer, owner: string): string | null;
}

/**
 * Seals by keys derived from the server's secrets, the one in use first; it opens what any of them has sealed.
 *
 * AES-256-GCM (NIST SP 800-38D) under keys by HKDF-SHA256 (RFC 5869).
 *
 * @param secrets at least one, 32 bytes each
 * @param purpose keeps these keys apart from others derived of the same secret
 */
export function sealingBy(secrets: readonly Uint8Array[], purpose: string): Sealing {
  const keys = secrets.map((secret) => Buffer.from(hkdfSync('sha256', secret, '', purpose, 32)));
  return {
    seal: (plain, owner) => {
      const iv = randomBytes(IV_BYTES);
      const cipher = createCipheriv(ALGORITHM, keys[0]!, iv).setAAD(Buffer.from(owner));
      return Buffer.concat([iv, cipher.update(plain, 'utf8'), cipher.final(), cipher.getAuthTag()]);
    },
    open: (sealed, owner) => {
      for (const key of keys) {
        try {
          const decipher = createDecipheriv(ALGORITHM, key, sealed.subarray(0, IV_BYTES), { authTagLength: TAG_BYTES })
            .setAAD(Buffer.from(owner)).setAuthTag(sealed.subarray(-TAG_BYTES));
          return Buffer.concat([decipher.update(sealed.subarray(IV_BYTES, -TAG_BYTES)), decipher.final()]).toString('utf8');
        } catch {
          // Sealed by another key, or altered.
        }
      }
      return null;
    },
  };
}
