import { Injectable } from '@nestjs/common';
import { v7 as uuidv7 } from 'uuid';
import { InputError } from '#libs/quantity';
import type { AddMemberInput, Role } from '../../generated/schema.js';
import { Database, type Tx } from '../../platform/database/database.js';
import { ProblemError } from '../../platform/errors/problem.js';
import { accountByEmail, accountById, insertAccount, insertLab, insertMemberships, updatePassword } from '../../platform/identity/account.repository.js';
import type { Actor } from '../../platform/identity/actor.js';
import { hashPassword, passwordMatches } from '../../platform/identity/password.js';
import { requireEmail } from './email.js';

export interface NewMember {
  readonly email: string;
  readonly displayName: string;
  readonly password: string;
  readonly roles: readonly Role[];
}

/** Labs, their people and passwords. */
@Injectable()
export class LabService {
  constructor(private readonly database: Database) {}

  /** Opens a lab with its first members; who runs the server does this, not a request. */
  async open(name: string, members: readonly NewMember[], demo = false): Promise<{ labId: string; accountIds: string[] }> {
    const labId = uuidv7();
    const hashed = await Promise.all(members.map(async (member) => ({ ...member, passwordHash: await hashPassword('password', member.password) })));
    const accountIds = await this.database.write({ labId, accountId: null }, async (tx) => {
      await insertLab(tx, { id: labId, name, demo });
      const ids: string[] = [];
      for (const member of hashed) {
        const id = uuidv7();
        await insertAccount(tx, { id, email: member.email, displayName: member.displayName, passwordHash: member.passwordHash });
        await insertMemberships(tx, labId, id, member.roles);
        ids.push(id);
      }
      return ids;
    });
    return { labId, accountIds };
  }

  async addMember(tx: Tx, input: AddMemberInput): Promise<{ id: string; displayName: string; email: string; roles: Role[] }> {
    requireEmail('email', input.email);
    if (input.roles.length === 0) throw new InputError('NO_ROLE', 'roles', 'no role was chosen', 'Choose at least one.');
    const existing = await accountByEmail(tx, input.email);
    if (existing) {
      await insertMemberships(tx, tx.labId, existing.id, input.roles);
      return { ...existing, roles: [...input.roles] };
    }
    const account = {
      id: uuidv7(),
      email: input.email,
      displayName: input.displayName.trim(),
      passwordHash: await hashPassword('password', input.password ?? ''),
    };
    await insertAccount(tx, account);
    await insertMemberships(tx, tx.labId, account.id, input.roles);
    return { id: account.id, displayName: account.displayName, email: account.email, roles: [...input.roles] };
  }

  async changePassword(tx: Tx, actor: Actor, current: string, next: string): Promise<void> {
    await this.confirmPassword(tx, actor, 'current', current);
    await updatePassword(tx, actor.accountId, await hashPassword('next', next));
  }

  /** Asks the person's password again, as signing does. */
  async confirmPassword(tx: Tx, actor: Actor, field: string, password: string): Promise<void> {
    const account = await accountById(tx, actor.accountId);
    if (!account || !(await passwordMatches(account.passwordHash, password))) {
      throw new ProblemError('CREDENTIALS', field, 'The password does not match.', 'Enter the password you sign in with.');
    }
  }
}
