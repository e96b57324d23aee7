import { createReadStream } from 'node:fs';
import { appendFile, readFile, rename, writeFile } from 'node:fs/promises';
import { createInterface } from 'node:readline';
import { OperatorFailure, codeOf } from '../failure.js';

/** A line that was heard and not told to the server yet. The id makes it one line however often it is told. */
export interface Spooled {
  readonly id: string;
  readonly instrumentId: string;
  readonly rawLine: string;
  readonly heardAt: string;
}

/**
 * Lines on disk until the server has answered for them, in the order in which they were heard: a file of JSON lines, and
 * beside it how many of them are told. A crash between telling and counting tells a line again; its id makes that harmless.
 */
export class Spool {
  private waiting: Spooled[] = [];
  private told = 0;
  private writing: Promise<void> = Promise.resolve();

  private constructor(private readonly file: string) {}

  static async open(file: string): Promise<Spool> {
    const spool = new Spool(file);
    spool.told = Number(await readFile(`${file}.told`, 'utf8').catch(() => '0')) || 0;
    const lines = await linesOf(file);
    spool.waiting = lines.slice(spool.told).flatMap((line) => readSpooled(line) ?? []);
    return spool;
  }

  get length(): number {
    return this.waiting.length;
  }

  first(): Spooled | undefined {
    return this.waiting[0];
  }

  /** Resolves once the line is in the file. */
  add(line: Spooled): Promise<void> {
    this.waiting.push(line);
    return this.inTurn(() => appendFile(this.file, `${JSON.stringify(line)}\n`, { flush: true }));
  }

  /** The first line was answered for. */
  done(): Promise<void> {
    this.waiting.shift();
    this.told += 1;
    return this.inTurn(async () => {
      if (this.waiting.length > 0) return writeFile(`${this.file}.told`, String(this.told));
      // Empty again: begin a new file, so that it does not grow for ever. The count goes first: a crash in between tells lines again.
      this.told = 0;
      await writeFile(`${this.file}.told`, '0');
      await writeFile(`${this.file}.new`, '');
      await rename(`${this.file}.new`, this.file);
    });
  }

  private inTurn(act: () => Promise<void>): Promise<void> {
    this.writing = this.writing.then(act, act);
    return this.writing;
  }
}

async function linesOf(file: string): Promise<string[]> {
  const lines: string[] = [];
  try {
    for await (const line of createInterface({ input: createReadStream(file, 'utf8'), crlfDelay: Infinity })) lines.push(line);
  } catch (error) {
    if (codeOf(error) !== 'ENOENT') throw new OperatorFailure(`${file} cannot be read (${codeOf(error) ?? String(error)}).`);
  }
  return lines;
}

/** A line cut by a crash while it was written was never confirmed to be kept: it is passed over. */
function readSpooled(line: string): Spooled | null {
  try {
    const read = JSON.parse(line) as Spooled;
    return typeof read.id === 'string' && typeof read.rawLine === 'string' ? read : null;
  } catch {
    return null;
  }
}
