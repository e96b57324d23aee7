import { v7 as uuidv7 } from 'uuid';
import { LineStream, readLine, Settling, type LineFormat, type Terminator } from '#libs/instrument-line';
import { RefusedRecord, type ApiClient } from '../client.js';
import { messageOf } from '../failure.js';
import { openSource, type LineSource, type SerialSettings } from './line-source.js';
import { Spool } from './spool.js';

export interface ListenedInstrument extends SerialSettings {
  readonly id: string;
  readonly label: string;
  readonly format: LineFormat;
  readonly terminator: Terminator;
}

const AGAIN_MS = 2_000;

/** Listens to one instrument: stable lines go to the spool, and from there to the server in order. */
export class Listener {
  private source: LineSource | null = null;
  private stream: LineStream;
  private readonly settling = new Settling();
  private telling: Promise<void> | null = null;
  private closed = false;
  private complaint = '';
  private timers = new Set<NodeJS.Timeout>();

  constructor(
    private readonly client: ApiClient,
    private readonly instrument: ListenedInstrument,
    private readonly address: string,
    private readonly spool: Spool,
    private readonly say: (line: string) => void,
  ) {
    this.stream = new LineStream(instrument.terminator);
  }

  start(): void {
    this.open();
    this.tell();
  }

  async close(): Promise<void> {
    this.closed = true;
    this.source?.close();
    for (const timer of this.timers) clearTimeout(timer);
    await this.telling;
  }

  private open(): void {
    if (this.closed) return;
    this.source = openSource(this.address, this.instrument, (bytes) => this.take(bytes), (why) => {
      this.complain(`${this.instrument.label} at ${this.address}: ${why}; tried again every ${AGAIN_MS / 1000} s.`);
      // What was half written belongs to no line that follows, and a load may have been changed unseen.
      this.stream.forget();
      this.settling.forget();
      this.later(() => this.open());
    });
  }

  private take(bytes: Uint8Array): void {
    for (const rawLine of this.stream.take(bytes)) {
      const read = readLine(rawLine, this.instrument.format);
      if (read.outcome === 'unread') this.complain(`Not read: ${rawLine.slice(0, 80)} (${read.why})`);
      if (!this.settling.isNew(read)) continue;
      const line = { id: uuidv7(), instrumentId: this.instrument.id, rawLine, heardAt: new Date().toISOString() };
      this.say(`${line.heardAt}  ${rawLine}`);
      this.spool.add(line).then(() => this.tell(), (error: unknown) => this.complain(`The spool cannot be written: ${messageOf(error)}`));
    }
  }

  /** One at a time and in order; stops at the first that gets no answer. */
  private tell(): void {
    if (this.telling || this.closed) return;
    this.telling = this.tellAll().finally(() => { this.telling = null; });
  }

  private async tellAll(): Promise<void> {
    for (let line = this.spool.first(); line && !this.closed; line = this.spool.first()) {
      try {
        await this.client.send('hearLine', 'HearLineInput', line);
        this.complaint = '';
      } catch (error) {
        if (!(error instanceof RefusedRecord)) {
          this.complain(`Not told yet, ${this.spool.length} kept: ${messageOf(error)}`);
          this.later(() => this.tell());
          return;
        }
        // Sent again it would be refused again; it stands in the spool file and on the terminal.
        this.say(`Refused: ${line.rawLine} (${messageOf(error)})`);
      }
      await this.spool.done();
    }
  }

  private later(act: () => void): void {
    const timer = setTimeout(() => { this.timers.delete(timer); act(); }, AGAIN_MS);
    this.timers.add(timer);
  }

  /** Once, not every two seconds. */
  private complain(words: string): void {
    if (words === this.complaint) return;
    this.complaint = words;
    this.say(words);
  }
}
