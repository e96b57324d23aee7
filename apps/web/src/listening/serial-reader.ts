import { LineStream, readLine, Settling } from '#libs/instrument-line';
import { readFormatOf, sayingOf, type Said, type Speaking } from './said.js';

/** The part of Web Serial that is used here: TypeScript's DOM does not know it yet. */
export interface WebSerialPort {
  readonly readable: ReadableStream<Uint8Array> | null;
  open(options: { baudRate: number; dataBits: number; parity: 'none' | 'even' | 'odd'; stopBits: number }): Promise<void>;
  close(): Promise<void>;
}

interface WebSerial {
  requestPort(): Promise<WebSerialPort>;
}

/** Null where this browser has no Web Serial, or gives it to secure addresses only. */
export const webSerial = (): WebSerial | null => ('serial' in navigator ? (navigator.serial as WebSerial) : null);

export interface SerialState {
  readonly line: 'closed' | 'opening' | 'open' | 'lost';
  /** The last line as it came, and what became of it. */
  readonly last: { readonly rawLine: string; readonly outcome: 'stable' | 'moving' | 'unread' } | null;
  readonly why: string | null;
}

const CLOSED: SerialState = { line: 'closed', last: null, why: null };
const AGAIN_MS = 2_000;
const reasonOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));

/** Reads one instrument on a serial line of this computer, for all forms of the page. */
export class SerialReader {
  private current: SerialState = CLOSED;
  private port: WebSerialPort | null = null;
  private reader: ReadableStreamDefaultReader<Uint8Array> | null = null;
  private wanted = false;
  private readonly watchers = new Set<() => void>();
  private readonly takers = new Set<(said: Said) => void>();

  constructor(private instrument: Speaking, private readonly serial: WebSerial) {}

  readonly state = (): SerialState => this.current;

  readonly watch = (watcher: () => void): (() => void) => {
    this.watchers.add(watcher);
    return () => this.watchers.delete(watcher);
  };

  /** Each load once, when it has settled. */
  take(taker: (said: Said) => void): () => void {
    this.takers.add(taker);
    return () => this.takers.delete(taker);
  }

  /** The newest format holds from the next line on. */
  speaks(instrument: Speaking): void {
    this.instrument = instrument;
  }

  /** Asks the person which port it is; must be called from a click. */
  async connect(): Promise<void> {
    if (this.wanted) return;
    this.wanted = true;
    this.become({ line: 'opening', last: null, why: null });
    try {
      this.port = await this.serial.requestPort();
    } catch (error) {
      this.wanted = false;
      // Whoever closes the browser's list without choosing has not failed.
      return this.become({ ...CLOSED, why: error instanceof DOMException && error.name === 'NotFoundError' ? null : reasonOf(error) });
    }
    void this.run();
  }

  async close(): Promise<void> {
    this.wanted = false;
    await this.reader?.cancel().catch(() => undefined);
    this.become(CLOSED);
  }

  private become(next: SerialState): void {
    this.current = next;
    for (const watcher of this.watchers) watcher();
  }

  /** Reads until it is closed; a line that is lost is tried again, as when somebody moves the cable. */
  private async run(): Promise<void> {
    while (this.wanted && this.port) {
      try {
        await this.readOnce(this.port);
        if (this.wanted) this.become({ ...this.current, line: 'lost', why: 'the line was closed' });
      } catch (error) {
        if (this.wanted) this.become({ ...this.current, line: 'lost', why: reasonOf(error) });
      }
      await this.port.close().catch(() => undefined);
      if (this.wanted) await new Promise((resolve) => { setTimeout(resolve, AGAIN_MS); });
    }
  }

  private async readOnce(port: WebSerialPort): Promise<void> {
    const { lineFormat } = this.instrument;
    if (!lineFormat) throw new Error('nobody has said how it writes its lines');
    const { baudRate, dataBits, parity, stopBits, terminator } = lineFormat;
    await port.open({ baudRate, dataBits, parity: parity.toLowerCase() as 'none', stopBits });
    if (!port.readable) throw new Error('the port cannot be read');
    // What was half written belongs to no line that follows, and a load may have been changed unseen: both begin anew.
    const stream = new LineStream(terminator);
    const settling = new Settling();
    this.become({ line: 'open', last: null, why: null });
    const reader = port.readable.getReader();
    this.reader = reader;
    try {
      for (;;) {
        const { value, done } = await reader.read();
        if (done) return;
        for (const rawLine of stream.take(value)) this.hear(rawLine, settling);
      }
    } finally {
      this.reader = null;
      reader.releaseLock();
    }
  }

  private hear(rawLine: string, settling: Settling): void {
    const { lineFormat } = this.instrument;
    if (!lineFormat) return;
    const read = readLine(rawLine, readFormatOf(lineFormat));
    const { last } = this.current;
    if (last?.rawLine !== rawLine || last.outcome !== read.outcome) this.become({ ...this.current, last: { rawLine, outcome: read.outcome } });
    if (!settling.isNew(read)) return;
    const saying = sayingOf(rawLine, lineFormat, 'serial');
    if (saying.outcome === 'take') for (const taker of this.takers) taker(saying.said);
  }
}

const readers = new Map<string, SerialReader>();

/** The one reader of an instrument: a port can be opened once only. Null without Web Serial. */
export function serialReaderOf(instrument: Speaking): SerialReader | null {
  const serial = webSerial();
  if (!serial) return null;
  const known = readers.get(instrument.id) ?? new SerialReader(instrument, serial);
  known.speaks(instrument);
  readers.set(instrument.id, known);
  return known;
}
