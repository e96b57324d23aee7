import { createHash, randomBytes } from 'node:crypto';
import type { Role, TokenScope } from '../../generated/schema.js';
import type { Database } from '../database/database.js';
import type { Actor } from './actor.js';

/**
 * A secret is `threadleaf_` and 64 bytes in base64url: lab, token, and 32 random bytes. The lab is in it so that the token
 * is looked for inside that lab's fence; a secret with another lab in it has another hash.
 */
const PREFIX = 'threadleaf_';
const BYTES = 64;
const FORM = new RegExp(`^${PREFIX}[A-Za-z0-9_-]{86}$`);
/** Another process learns of a revocation within this time; this one at once. */
const REMEMBER_MS = 3_000;
const REMEMBER_MOST = 10_000;

const bytesOf = (uuid: string): Buffer => Buffer.from(uuid.replaceAll('-', ''), 'hex');
const uuidOf = (bytes: Buffer): string => bytes.toString('hex').replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
const hashOf = (secret: string): string => createHash('sha256').update(secret).digest('hex');

/** A new secret for a token; shown once, and only its hash is kept. */
export function newSecret(labId: string, tokenId: string): { secret: string; secretHash: string } {
  const secret = PREFIX + Buffer.concat([bytesOf(labId), bytesOf(tokenId), randomBytes(32)]).toString('base64url');
  return { secret, secretHash: hashOf(secret) };
}

interface StandingToken {
  readonly id: string;
  readonly label: string;
  readonly scopes: TokenScope[];
  readonly expiresAt: Date;
  readonly accountId: string;
  readonly displayName: string;
  readonly roles: Role[];
}

/** Finds who acts by a secret: the person who made the token, with the roles that person has in the lab now. */
export class AccessTokens {
  private readonly remembered = new Map<string, { until: number; actor: Actor | null }>();

  constructor(private readonly database: Database) {}

  /** Null for a secret that is unknown, revoked, expired or no secret at all. */
  async find(secret: string): Promise<Actor | null> {
    if (!FORM.test(secret)) return null;
    const key = hashOf(secret);
    const known = this.remembered.get(key);
    if (known && known.until > Date.now()) return known.actor;
    const actor = await this.actorOf(secret, key);
    if (this.remembered.size >= REMEMBER_MOST) this.remembered.clear();
    const until = Math.min(Date.now() + REMEMBER_MS, actor?.token?.expiresAt.getTime() ?? Infinity);
    this.remembered.set(key, { until, actor });
    return actor;
  }

  /** A token was revoked in this process: no request after this one goes through by it. */
  forget(tokenId: string): void {
    for (const [key, { actor }] of this.remembered) if (actor?.token?.id === tokenId) this.remembered.delete(key);
  }

  private async actorOf(secret: string, secretHash: string): Promise<Actor | null> {
    const bytes = Buffer.from(secret.slice(PREFIX.length), 'base64url');
    if (bytes.length !== BYTES) return null;
    const [labId, tokenId] = [uuidOf(bytes.subarray(0, 16)), uuidOf(bytes.subarray(16, 32))];
    const [found] = await this.database.write({ labId, accountId: null }, (tx) => tx.query<StandingToken>(
      `SELECT token.id, token.label, token.scopes, token.expires_at AS "expiresAt", account.id AS "accountId", account.display_name AS "displayName",
         (SELECT array_agg(role) FROM membership WHERE membership.lab_id = $1 AND membership.account_id = account.id) AS roles
       FROM access_token token JOIN account ON account.id = token.recorded_by
       WHERE token.lab_id = $1 AND token.id = $2 AND token.secret_hash = $3 AND token.expires_at > now() AND account.disabled_at IS NULL
         AND NOT EXISTS (SELECT FROM access_token_revocation r WHERE r.lab_id = $1 AND r.access_token_id = token.id)`,
      [labId, tokenId, secretHash],
    ));
    // Somebody who left the lab has no roles in it: neither has what they left running.
    if (!found?.roles) return null;
    const { id, label, scopes, expiresAt, accountId, displayName, roles } = found;
    return { accountId, displayName: `${displayName} through token ${label}`, labId, roles, token: { id, label, scopes, expiresAt } };
  }
}
