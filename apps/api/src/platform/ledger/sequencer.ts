import { InputError } from '#libs/quantity';
import type { Database, Fence } from '../database/database.js';
import { holdLedger, placeWaiting, queueForgotten, signNewest, BATCH_MOST, type Signing } from './sequence.js';
import type { Signer } from './signer.js';

/** Writes come in bursts; one batch places a burst. */
const DEBOUNCE_MS = 200;
/** One checkpoint in so long at most, for each lab: each one is kept for ever. */
const CHECKPOINT_EVERY_MS = 3_000;
/** How often to look for entries that a process left waiting when it was killed. */
const SWEEP_MS = 20_000;
/** Another process is placing: look again after it. */
const BUSY_MS = 100;

const COMPLAINTS: Partial<Record<Signing, string>> = {
  'foreign key': 'is signed with another key than this server has: entries get their places, but no checkpoint is signed. Give all servers the same THREADLEAF_LEDGER_KEY.',
  'history differs': 'does not begin with what its last checkpoint signed: the database was altered or set back. Nothing is signed any more. Run: threadleaf check',
};

/**
 * Gives committed entries their places in the lab's Merkle tree and signs checkpoints, shortly after writes and never
 * inside them. Any number of processes may do so on one database: whoever holds the lab's lock works, the others look
 * again. One lab at a time and one connection, so that people's requests go first.
 */
export class Sequencer {
  private readonly due = new Map<string, number>();
  private readonly signedAt = new Map<string, number>();
  private readonly complained = new Set<string>();
  private timer: NodeJS.Timeout | null = null;
  private sweeping: NodeJS.Timeout | null = null;
  private working: Promise<void> | null = null;
  private closed = false;

  /** @param signer null: entries get their places, but nothing is signed */
  constructor(
    private readonly database: Database,
    readonly signer: Signer | null,
    private readonly complain: (line: string) => void = console.error,
  ) {}

  /** Begins to work: looks at every lab at once, then at those that write, and at all that wait now and then. */
  async start(): Promise<void> {
    const labs = await this.database.write(UNFENCED, (tx) => tx.query<{ id: string }>('SELECT id FROM lab'));
    for (const { id } of labs) {
      await this.database.write({ labId: id, accountId: null }, async (tx) => {
        if (await holdLedger(tx)) await queueForgotten(tx);
      });
      this.lookAt(id, 0);
    }
    this.sweeping = setInterval(() => { this.sweep().catch(() => undefined); }, SWEEP_MS);
    this.sweeping.unref();
  }

  /** A write of this lab was committed. */
  nudge(labId: string): void {
    this.lookAt(labId, DEBOUNCE_MS);
  }

  /** Places all that waits in a lab now and signs it, without waiting for the next round. */
  async settle(labId: string): Promise<void> {
    for (;;) {
      const left = await this.work(labId, true);
      if (left === null) return;
      await new Promise((resolve) => { setTimeout(resolve, left); });
    }
  }

  /** Ends the work under way and begins no other. What waits is placed at the next start. */
  async close(): Promise<void> {
    this.closed = true;
    if (this.timer) clearTimeout(this.timer);
    if (this.sweeping) clearInterval(this.sweeping);
    await this.working;
  }

  private lookAt(labId: string, inMs: number): void {
    const at = Date.now() + inMs;
    this.due.set(labId, Math.min(this.due.get(labId) ?? at, at));
    this.wake();
  }

  private wake(): void {
    if (this.closed || this.working || this.due.size === 0) return;
    if (this.timer) clearTimeout(this.timer);
    const next = Math.min(...this.due.values());
    this.timer = setTimeout(() => {
      this.working = this.workOnDue().finally(() => {
        this.working = null;
        this.wake();
      });
    }, Math.max(next - Date.now(), 0));
    this.timer.unref();
  }

  private async workOnDue(): Promise<void> {
    for (const [labId, at] of [...this.due]) {
      if (this.closed || at > Date.now()) continue;
      this.due.delete(labId);
      try {
        const again = await this.work(labId, false);
        if (again !== null) this.lookAt(labId, again);
      } catch (error) {
        // The database is gone or the entry cannot be placed: what waits goes on waiting, and recording goes on.
        this.complainOnce(`${labId} ${(error as Error).message}`, `The ledger of lab ${labId} could not be continued: ${(error as Error).message}`);
        if (!(error instanceof InputError)) this.lookAt(labId, SWEEP_MS);
      }
    }
  }

  /** One batch. @returns when to look again, ms from now, or null when nothing is left to do */
  private async work(labId: string, signNow: boolean): Promise<number | null> {
    const signIn = signNow ? 0 : Math.max((this.signedAt.get(labId) ?? 0) + CHECKPOINT_EVERY_MS - Date.now(), 0);
    const outcome = await this.database.write({ labId, accountId: null }, async (tx) => {
      if (!(await holdLedger(tx))) return { left: BUSY_MS, signing: null };
      const placed = await placeWaiting(tx);
      if (placed === BATCH_MOST) return { left: 0, signing: null };
      if (signIn > 0) return { left: signIn, signing: null };
      return { left: null, signing: this.signer && (await signNewest(tx, this.signer)) };
    });
    if (outcome.signing === 'signed') this.signedAt.set(labId, Date.now());
    const complaint = outcome.signing && COMPLAINTS[outcome.signing];
    if (complaint) this.complainOnce(`${labId} ${outcome.signing}`, `The ledger of lab ${labId} ${complaint}`);
    return outcome.left;
  }

  private async sweep(): Promise<void> {
    const waiting = await this.database.write(UNFENCED, (tx) => tx.query<{ id: string }>('SELECT DISTINCT lab_id AS id FROM ledger_pending'));
    for (const { id } of waiting) this.lookAt(id, 0);
  }

  private complainOnce(topic: string, line: string): void {
    if (this.complained.has(topic)) return;
    this.complained.add(topic);
    this.complain(line);
  }
}

const UNFENCED: Fence = { labId: null, accountId: null };
