import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { CreateAccessTokenInput, RevokeAccessTokenInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsBy, rowsWhere } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { requireText } from '../../platform/graphql/text.js';
import { newSecret } from '../../platform/identity/access-tokens.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Sessions } from '../../platform/identity/sessions.js';
import { SCOPE_ROLES } from '../../platform/identity/token-scopes.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { LabService } from '../lab/lab.service.js';
import { AccessToken, AccessTokenRevocation } from './token.entity.js';

/** A season and the winter after it. */
const LONGEST_DAYS = 400;
const DAY_MS = 86_400_000;

/** A token with the fact that ended it, where one did. */
export interface TokenTold {
  readonly token: AccessToken;
  readonly revocation: AccessTokenRevocation | null;
}

const oversees = (actor: Actor): boolean => actor.roles.some((role) => role === 'ADMINISTRATOR' || role === 'MANAGER');

/** Access tokens: made by those whose roles cover what the token is for, ended by their maker or whoever oversees the lab. */
@Injectable()
export class TokenService {
  constructor(
    private readonly recorder: Recorder,
    private readonly labs: LabService,
    private readonly sessions: Sessions,
  ) {}

  async tokens(tx: Tx, actor: Actor): Promise<TokenTold[]> {
    const tokens = await rowsWhere(tx, AccessToken, '$2::boolean OR recorded_by = $3', [oversees(actor), actor.accountId], 'ORDER BY id DESC');
    return withRevocations(tx, tokens);
  }

  /** @returns the token, and its secret unless it had been made before */
  async create(tx: Tx, actor: Actor, input: CreateAccessTokenInput, now: Date): Promise<Written<AccessToken> & { secret: string | null }> {
    await this.labs.confirmPassword(tx, actor, 'password', input.password);
    const { secret, secretHash } = newSecret(tx.labId, input.id);
    const { at: expiresAt } = parseMoment('expiresAt', input.expiresAt);
    const given = { id: input.id, label: requireText('label', input.label), scopes: [...new Set(input.scopes)].sort(), expiresAt };
    const written = await this.recorder.record(tx, actor, AccessToken, given, () => {
      requireScopes(actor, given.scopes);
      requireExpiry(expiresAt, now);
      return { derived: { secretHash }, uses: [], action: 'issue' };
    });
    return { ...written, secret: written.replayed ? null : secret };
  }

  async revoke(tx: Tx, actor: Actor, input: RevokeAccessTokenInput): Promise<TokenTold & { replayed: boolean }> {
    const token = await rowById(tx, AccessToken, input.accessTokenId);
    // Who may not see a token is told what one would be told of any id.
    if (!token || !(oversees(actor) || token.recordedBy === actor.accountId)) throw notFound('accessTokenId', 'The access token');
    const given = { id: input.id, accessTokenId: token.id, reason: requireText('reason', input.reason) };
    const { row, replayed } = await this.recorder.record(tx, actor, AccessTokenRevocation, given, () => ({
      uses: [{ kind: 'access_token', id: token.id, role: 'of' }], action: 'revoke', reason: given.reason,
    }));
    tx.afterCommit(() => this.sessions.tokens.forget(token.id));
    return { token, revocation: row, replayed };
  }
}

async function withRevocations(tx: Tx, tokens: readonly AccessToken[]): Promise<TokenTold[]> {
  const revocations = new Map((await rowsBy(tx, AccessTokenRevocation, 'accessTokenId', tokens.map(({ id }) => id))).map((row) => [row.accessTokenId, row]));
  return tokens.map((token) => ({ token, revocation: revocations.get(token.id) ?? null }));
}

function requireScopes(actor: Actor, scopes: CreateAccessTokenInput['scopes']): void {
  if (scopes.length === 0) throw new InputError('NO_SCOPE', 'scopes', 'no scope was chosen', 'Choose what the token is for.');
  const beyond = scopes.find((scope) => !actor.roles.some((role) => SCOPE_ROLES[scope].includes(role)));
  if (beyond) {
    const roles = SCOPE_ROLES[beyond].join(', ').toLowerCase().replaceAll('_', ' ');
    throw new ProblemError('INPUT', 'scopes', `Your roles do not cover the scope ${beyond.toLowerCase()}.`, `It is for one of: ${roles}. Let such a person make the token.`);
  }
}

function requireExpiry(expiresAt: Date, now: Date): void {
  if (expiresAt <= now) throw new InputError('IN_THE_PAST', 'expiresAt', 'lies in the past', 'Choose a later day.');
  if (expiresAt.getTime() > now.getTime() + LONGEST_DAYS * DAY_MS) {
    throw new InputError('TOO_LONG', 'expiresAt', `lies more than ${LONGEST_DAYS} days ahead`, 'Choose a nearer day, and make a new token then.');
  }
}
