import { availableParallelism } from 'node:os';
import { relative } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { Worker } from 'node:worker_threads';
import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import { packageRoot } from '../config/package-root.js';

/** What a thread tells: how far it is, or what came out. */
export type ThreadMessage =
  | { readonly progress: number; readonly sentence?: string }
  | { readonly value: unknown }
  | { readonly refused: { code: string; field: string; problem: string; remedy: string } }
  | { readonly broken: string };

export interface ThreadOptions {
  readonly signal?: AbortSignal;
  readonly progress?: (fraction: number, sentence?: string) => void;
}

interface Waiting {
  begin(): void;
}

/**
 * Computing that takes longer than a few milliseconds, away from the thread that answers requests. A task is a module that
 * exports `run(input, progress)`; input and answer are copied, so they are plain values and typed arrays. As many threads
 * work as there are processors to spare, and stay for the next task; one whose task is called off is ended.
 */
@Injectable()
export class Threads {
  private readonly idle: Worker[] = [];
  private readonly waiting: Waiting[] = [];
  private working = 0;
  private readonly most = Math.max(availableParallelism() - 1, 1);
  private closed = false;

  /** @param module address of the task's module, `new URL('./name.js', import.meta.url)` */
  async run<Answer>(module: URL, input: unknown, { signal, progress }: ThreadOptions = {}): Promise<Answer> {
    signal?.throwIfAborted();
    if (this.working >= this.most) await new Promise<void>((resolve) => { this.waiting.push({ begin: resolve }); });
    else this.working += 1;
    try {
      signal?.throwIfAborted();
      return (await this.inThread(compiled(module).href, input, signal, progress)) as Answer;
    } finally {
      const next = this.waiting.shift();
      if (next) next.begin();
      else this.working -= 1;
    }
  }

  async close(): Promise<void> {
    this.closed = true;
    await Promise.all(this.idle.splice(0).map((worker) => worker.terminate()));
  }

  private inThread(module: string, input: unknown, signal?: AbortSignal, progress?: ThreadOptions['progress']): Promise<unknown> {
    const worker = this.idle.pop() ?? new Worker(compiled(new URL('./thread.js', import.meta.url)));
    worker.ref();
    return new Promise((resolve, reject) => {
      const settle = (act: () => void, keep: boolean): void => {
        worker.off('message', hear).off('error', fail).off('exit', end);
        signal?.removeEventListener('abort', abort);
        if (keep && !this.closed) {
          worker.unref();
          this.idle.push(worker);
        } else {
          // Whatever it still says concerns nobody.
          worker.on('error', () => undefined);
          void worker.terminate();
        }
        act();
      };
      const abort = (): void => settle(() => reject(signal?.reason as Error), false);
      const hear = (message: ThreadMessage): void => {
        if ('progress' in message) progress?.(message.progress, message.sentence);
        else if ('value' in message) settle(() => resolve(message.value), true);
        else if ('refused' in message) settle(() => reject(revived(message.refused)), true);
        else settle(() => reject(new Error(message.broken)), true);
      };
      const fail = (error: Error): void => settle(() => reject(error), false);
      const end = (code: number): void => settle(() => reject(new Error(`A thread ended (${code}) in the middle of its task.`)), false);
      signal?.addEventListener('abort', abort);
      worker.on('message', hear).on('error', fail).on('exit', end);
      worker.postMessage({ module, input });
    });
  }
}

const revived = ({ code, field, problem, remedy }: { code: string; field: string; problem: string; remedy: string }): InputError =>
  new InputError(code, field, problem, remedy);

/** Threads have no transform: they run the compiled module, also where the rest runs from source. */
function compiled(module: URL): URL {
  const path = relative(packageRoot, fileURLToPath(module)).replaceAll('\\', '/');
  return !path.startsWith('apps/') ? module : new URL(`dist/${path}`, `${pathToFileURL(packageRoot).href}/`);
}
