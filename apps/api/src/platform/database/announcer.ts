import { EventEmitter, on } from 'node:events';
import pg from 'pg';

/** A record was written: told to every process, and by them to the people of the lab. */
export interface Announcement {
  readonly labId: string;
  readonly kind: string;
  readonly id: string;
  readonly dryingRunId: string | null;
}

const CHANNEL = 'threadleaf_recorded';
/**
 * NOTIFY inside a write would make all commits wait for one lock. So writes queue their news here and one connection
 * tells it in bundles shortly after. A crash in between loses only the hint to look again, never a record.
 */
const BUNDLE_MS = 40;
/** A NOTIFY payload must stay below 8000 bytes; an announcement takes about 150. */
const BUNDLE_MOST = 45;
const RECONNECT_MS = 1_000;
/** A page asks for its records first and listens a moment later, on a slow line seconds later: so long news are told to who comes after them. */
const JUST_NOW_MS = 5_000;
/** Of an import of ten thousand rows the last ones say as well that it is time to look again. */
const JUST_NOW_MOST = 1_000;

/** Comes several times a minute from each instrument: a page that shows records must not fetch anew for it. */
const ASKED_FOR: readonly string[] = ['heard_line'];

export class Announcer {
  private readonly emitter = new EventEmitter().setMaxListeners(0);
  private queue: Announcement[] = [];
  /** News of the last seconds, oldest first. */
  private justNow: { readonly atMs: number; readonly announcement: Announcement }[] = [];
  private timer: NodeJS.Timeout | null = null;
  private client: pg.Client | null = null;
  private closed = false;

  constructor(private readonly url: string) {}

  async open(): Promise<void> {
    const client = new pg.Client({ connectionString: this.url, application_name: 'threadleaf announcer', options: '-c role=threadleaf_app' });
    client.on('notification', (message) => {
      for (const announcement of JSON.parse(message.payload ?? '[]') as Announcement[]) {
        this.remember(announcement);
        this.emitter.emit(announcement.labId, announcement);
      }
    });
    client.on('error', () => this.reopen());
    await client.connect();
    await client.query(`LISTEN ${CHANNEL}`);
    this.client = client;
  }

  /** Queues news of a committed write. */
  announce(announcement: Announcement): void {
    this.queue.push(announcement);
    this.timer ??= setTimeout(() => void this.flush(), BUNDLE_MS);
  }

  /**
   * News of one lab, until the consumer stops: of these kinds alone, from now on; or of all but what only those hear who ask for it,
   * with what came in the last seconds, so that nothing is missed between asking for records and listening for more.
   */
  listen(labId: string, kinds?: readonly string[]): AsyncIterableIterator<Announcement> {
    const fits = ({ kind }: Announcement): boolean => (kinds ? kinds.includes(kind) : !ASKED_FOR.includes(kind));
    // Not a generator: a generator's return() would wait for the next news before it stops.
    const news = on(this.emitter, labId);
    const missed = kinds ? [] : this.justNowIn(labId).filter(fits);
    return {
      next: async () => {
        const first = missed.shift();
        if (first) return { value: first, done: false };
        for (;;) {
          const { value, done } = await news.next();
          if (done) return { value: undefined, done: true };
          const [announcement] = value as [Announcement];
          if (fits(announcement)) return { value: announcement, done: false };
        }
      },
      return: async () => {
        await news.return?.();
        return { value: undefined, done: true };
      },
      [Symbol.asyncIterator]() {
        return this;
      },
    };
  }

  async close(): Promise<void> {
    this.closed = true;
    if (this.timer) clearTimeout(this.timer);
    await this.client?.end().catch(() => undefined);
  }

  private remember(announcement: Announcement): void {
    this.justNow.push({ atMs: performance.now(), announcement });
    if (this.justNow.length > 2 * JUST_NOW_MOST) this.justNow = this.justNow.slice(-JUST_NOW_MOST);
  }

  private justNowIn(labId: string): Announcement[] {
    const since = performance.now() - JUST_NOW_MS;
    return this.justNow.slice(-JUST_NOW_MOST).flatMap(({ atMs, announcement }) => (atMs > since && announcement.labId === labId ? [announcement] : []));
  }

  private async flush(): Promise<void> {
    this.timer = null;
    const queue = this.queue;
    this.queue = [];
    for (let start = 0; start < queue.length; start += BUNDLE_MOST) {
      const bundle = JSON.stringify(queue.slice(start, start + BUNDLE_MOST));
      await this.client?.query('SELECT pg_notify($1, $2)', [CHANNEL, bundle]).catch(() => undefined);
    }
  }

  private reopen(): void {
    this.client = null;
    if (this.closed) return;
    setTimeout(() => { this.open().catch(() => this.reopen()); }, RECONNECT_MS).unref();
  }
}
