import { createHash, randomBytes } from 'node:crypto';
import { parse, serialize } from 'cookie';
import type { Request, Response } from 'express';
import type { Database } from '../database/database.js';
import { ProblemError } from '../errors/problem.js';
import type { Actor } from './actor.js';
import { AccessTokens } from './access-tokens.js';
import { accountByEmail, endSession, insertSession, membershipsOf, moveSession, standingSession } from './account.repository.js';
import { FailureCount } from './failure-count.js';
import { decoyHash, passwordMatches } from './password.js';
import type { SecondFactors } from './second-factors.js';

const COOKIE = 'threadleaf_session';
/** By which a page says for whom it acts, "person lab": the browser's cookie may have become another's since the page was opened. */
const ACTING_FOR = 'x-threadleaf-acting-for';
const SESSION_HOURS = 14;
/** Another process learns of a sign-out within this time; this one at once. */
const REMEMBER_MS = 5_000;
const REMEMBER_MOST = 10_000;

export interface SignedIn {
  readonly actor: Actor;
  readonly sessionHash: Buffer;
}

/** Who a request comes from. */
export interface Found {
  /** Null where nobody is signed in, or the access token does not stand. */
  readonly actor: Actor | null;
  /** SHA-256 of the session's own token, where the request came with a session cookie. */
  readonly sessionHash: Buffer | null;
  /** True where an access token was shown that is unknown, revoked or expired. */
  readonly tokenRefused: boolean;
}

/** Opens, finds and ends sessions. The cookie holds a random token; the database holds only its hash. */
export class Sessions {
  private readonly remembered = new Map<string, { until: number; actor: Actor | null }>();
  private readonly failures = new FailureCount();


  readonly tokens: AccessTokens;

  constructor(
    private readonly database: Database,
    private readonly factors: SecondFactors,
  ) {
    this.tokens = new AccessTokens(database);
  }

  /**
   * By `Authorization: Bearer <secret>` where the request has it, and then by nothing else; otherwise by the session cookie.
   * A request that says for whom it acts finds nobody in the session of another person or lab.
   */
  async find(request: Pick<Request, 'headers'>): Promise<Found> {
    const bearer = /^Bearer\b\s*(.*)$/i.exec(request.headers.authorization ?? '');
    if (bearer) {
      const actor = await this.tokens.find(bearer[1]!.trim());
      return { actor, sessionHash: null, tokenRefused: actor === null };
    }
    const found = await this.bySession(request);
    const actingFor = request.headers[ACTING_FOR];
    const another = found.actor !== null && actingFor !== undefined && actingFor !== `${found.actor.accountId} ${found.actor.labId}`;
    return { ...(another ? { actor: null, sessionHash: null } : found), tokenRefused: false };
  }

  private async bySession(request: Pick<Request, 'headers'>): Promise<Omit<Found, 'tokenRefused'>> {
    const token = parse(request.headers.cookie ?? '')[COOKIE];
    if (!token) return { actor: null, sessionHash: null };
    const sessionHash = createHash('sha256').update(token).digest();
    const key = sessionHash.toString('base64');
    const known = this.remembered.get(key);
    if (known && known.until > Date.now()) return { actor: known.actor, sessionHash };
    const actor = await this.actorOf(sessionHash);
    if (this.remembered.size >= REMEMBER_MOST) this.remembered.clear();
    this.remembered.set(key, { until: Date.now() + REMEMBER_MS, actor });
    return { actor, sessionHash };
  }

  /**
   * @param code of the second factor, for whoever has one
   * @throws ProblemError `CREDENTIALS` when e-mail or password do not match, without telling which; `SECOND_FACTOR` when they
   *   match and the code is missing or wrong
   */
  async signIn(email: string, password: string, code: string | null | undefined, response: Response): Promise<SignedIn> {
    this.refuseAfterFailures(email);
    const outside = { labId: null, accountId: null };
    const account = await this.database.write(outside, (tx) => accountByEmail(tx, email));
    const matches = await passwordMatches(account?.passwordHash ?? (await decoyHash), password);
    if (!account || !matches) {
      this.failures.add(email.toLowerCase());
      throw new ProblemError('CREDENTIALS', 'password', 'E-mail and password do not match.', 'Check both. An administrator of the lab can help.');
    }
    this.failures.forget(email.toLowerCase());
    const token = randomBytes(32).toString('base64url');
    const tokenHash = createHash('sha256').update(token).digest();
    const fence = { labId: null, accountId: account.id };
    const actor = await this.database.write(fence, async (tx) => {
      await this.factors.passes(tx, account.id, code);
      const [membership] = await membershipsOf(tx, account.id);
      if (!membership) {
        throw new ProblemError('CREDENTIALS', 'email', 'This account belongs to no lab.', 'Ask an administrator to add you to one.');
      }
      await insertSession(tx, { tokenHash, accountId: account.id, labId: membership.labId, hours: SESSION_HOURS });
      return { accountId: account.id, displayName: account.displayName, labId: membership.labId, roles: membership.roles, token: null };
    });
    this.setCookie(response, token, SESSION_HOURS * 3600);
    return { actor, sessionHash: tokenHash };
  }

  async signOut(sessionHash: Buffer, response: Response): Promise<void> {
    this.remembered.delete(sessionHash.toString('base64'));
    await this.database.write({ labId: null, accountId: null }, (tx) => endSession(tx, sessionHash));
    this.setCookie(response, '', 0);
  }

  async enterLab(sessionHash: Buffer, actor: Actor, labId: string): Promise<Actor> {
    const entered = await this.database.write({ labId: null, accountId: actor.accountId }, async (tx) => {
      const membership = (await membershipsOf(tx, actor.accountId)).find((candidate) => candidate.labId === labId);
      if (!membership) throw new ProblemError('NOT_FOUND', 'labId', 'You belong to no such lab.', 'Choose one of your labs.');
      await moveSession(tx, sessionHash, labId);
      return { ...actor, labId, roles: membership.roles };
    });
    this.remembered.delete(sessionHash.toString('base64'));
    return entered;
  }

  private async actorOf(sessionHash: Buffer): Promise<Actor | null> {
    const outside = { labId: null, accountId: null };
    const session = await this.database.write(outside, (tx) => standingSession(tx, sessionHash));
    if (!session?.labId) return null;
    const memberships = await this.database.write({ labId: null, accountId: session.accountId }, (tx) => membershipsOf(tx, session.accountId));
    const membership = memberships.find((candidate) => candidate.labId === session.labId);
    return membership ? { accountId: session.accountId, displayName: session.displayName, labId: session.labId, roles: membership.roles, token: null } : null;
  }

  private refuseAfterFailures(email: string): void {
    if (this.failures.tooMany(email.toLowerCase())) {
      throw new ProblemError('CREDENTIALS', 'password', 'Too many failed sign-ins for this e-mail.', 'Wait a quarter of an hour and try again.');
    }
  }

  private setCookie(response: Response, token: string, seconds: number): void {
    const secure = response.req?.headers['x-forwarded-proto'] === 'https';
    response.append('Set-Cookie', serialize(COOKIE, token, { httpOnly: true, sameSite: 'strict', path: '/', maxAge: seconds, secure }));
  }
}
