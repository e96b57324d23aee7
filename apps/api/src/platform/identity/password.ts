import { hash, verify } from '@node-rs/argon2';
import { InputError } from '#libs/quantity';

const MIN_LENGTH = 12;

/** argon2id with the memory and passes that OWASP's password storage guide names (19 MiB, 2 passes, 1 lane). */
const ARGON2ID = { algorithm: 2, memoryCost: 19_456, timeCost: 2, parallelism: 1 } as const;

/** @throws InputError `PASSWORD_SHORT` below 12 characters */
export async function hashPassword(field: string, password: string): Promise<string> {
  if (password.length < MIN_LENGTH) {
    throw new InputError('PASSWORD_SHORT', field, `the password has ${password.length} characters`, `Use at least ${MIN_LENGTH}.`);
  }
  return hash(password, ARGON2ID);
}

export const passwordMatches = (passwordHash: string, password: string): Promise<boolean> => verify(passwordHash, password);

/** Hash of no password: verified against when the account does not exist, so that both cases take the same time. */
export const decoyHash: Promise<string> = hash('no account has this password', ARGON2ID);
