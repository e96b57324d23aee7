import type { Request, Response } from 'express';
import type { Database, ReadSession, Tx } from '../database/database.js';
import type { Actor } from '../identity/actor.js';
import { Loaders } from '../loaders/loaders.js';

/** What one GraphQL request carries: who asks, and one lazily opened snapshot that all its reading shares. */
export class RequestContext {
  readonly load: Loaders;
  /** The request's moment: every "now" in one answer is the same. */
  readonly now = new Date();
  /** Held by reference: Apollo Server runs an operation on a shallow copy of the context it was given. */
  private readonly snapshot: { reading: Promise<ReadSession> | null; ended: boolean } = { reading: null, ended: false };

  constructor(
    private readonly database: Database,
    readonly actor: Actor | null,
    readonly request: Request | null,
    readonly response: Response | null,
    /** SHA-256 of the session token, when there is a session. */
    readonly sessionHash: Buffer | null,
    /** True where an access token was shown that does not stand. */
    readonly tokenRefused = false,
    /** Whether the actor found for this request would still be found now: what a long-lived subscription asks again. */
    readonly stands: () => Promise<boolean> = () => Promise.resolve(true),
  ) {
    this.load = new Loaders(() => this.read());
  }

  /** The signed-in member. Policies have checked it: a missing one is a bug. */
  get member(): Actor {
    if (!this.actor) throw new Error('A policy let an anonymous request through.');
    return this.actor;
  }

  /** The request's read-only transaction. */
  async read(): Promise<Tx> {
    // A failed field ends the answer while its siblings still run: they must not open a snapshot nobody closes.
    if (this.snapshot.ended) throw new Error('The request has ended.');
    this.snapshot.reading ??= this.database.openRead({ labId: this.actor?.labId ?? null, accountId: this.actor?.accountId ?? null });
    return (await this.snapshot.reading).tx;
  }

  /** Runs a use case in a write transaction; what the request reads afterwards sees it. */
  async write<T>(work: (tx: Tx) => Promise<T>): Promise<T> {
    await this.close();
    return this.database.write({ labId: this.member.labId, accountId: this.member.accountId }, work);
  }

  /** Ends the request: called when the response is sent. */
  async end(): Promise<void> {
    this.snapshot.ended = true;
    await this.close();
  }

  private async close(): Promise<void> {
    const { reading } = this.snapshot;
    this.snapshot.reading = null;
    this.load.forget();
    await reading?.then((session) => session.close(), () => undefined);
  }
}
