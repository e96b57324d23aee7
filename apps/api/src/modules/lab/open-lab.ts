import { v7 as uuidv7 } from 'uuid';
import { InputError } from '#libs/quantity';
import type { Database } from '../../platform/database/database.js';
import { requireText } from '../../platform/graphql/text.js';
import { accountByEmail, insertAccount, insertLab, insertMemberships, labNamed } from '../../platform/identity/account.repository.js';
import { hashPassword } from '../../platform/identity/password.js';
import { requireEmail } from './email.js';

export interface FirstAdministrator {
  readonly email: string;
  readonly displayName: string;
  /** Asked for only when the account is new: an existing one keeps its password. */
  readonly password: () => Promise<string>;
}

export interface OpenedLab {
  readonly labId: string;
  /** False: the person had an account before and got a role in this lab too. */
  readonly newAccount: boolean;
}

/**
 * Opens a lab with its first administrator, who makes the other members. For whoever runs the server, not for requests.
 *
 * @throws InputError `NAME_TAKEN`, `NOT_AN_EMAIL`, `PASSWORD_SHORT`, or where a text is blank
 */
export async function openLab(database: Database, name: string, administrator: FirstAdministrator): Promise<OpenedLab> {
  const labId = uuidv7();
  const lab = { id: labId, name: requireText('name', name), demo: false };
  const email = requireEmail('admin-email', administrator.email);
  const displayName = requireText('admin-name', administrator.displayName);
  const outside = { labId: null, accountId: null };
  const before = await database.write(outside, async (tx) => {
    if (await labNamed(tx, lab.name)) throw new InputError('NAME_TAKEN', 'name', `a lab "${lab.name}" stands already`, 'Choose another name, or sign in to that one.');
    return accountByEmail(tx, email);
  });
  // Asked and hashed outside the transaction: a person types slowly.
  const passwordHash = before ? null : await hashPassword('password', await administrator.password());
  await database.write({ labId, accountId: null }, async (tx) => {
    await insertLab(tx, lab);
    const accountId = before?.id ?? uuidv7();
    if (passwordHash !== null) await insertAccount(tx, { id: accountId, email, displayName, passwordHash });
    await insertMemberships(tx, labId, accountId, ['ADMINISTRATOR']);
  });
  return { labId, newAccount: before === null };
}
