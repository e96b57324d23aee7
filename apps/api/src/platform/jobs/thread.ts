import { parentPort } from 'node:worker_threads';
import { InputError } from '#libs/quantity';
import type { ThreadMessage } from './threads.js';

/** What a task's module exports. */
interface Task {
  run(input: unknown, progress: (fraction: number, sentence?: string) => void): unknown;
}

const say = (message: ThreadMessage): void => parentPort!.postMessage(message);

/** The other end of threads.ts: one task after another. */
parentPort?.on('message', async ({ module, input }: { module: string; input: unknown }) => {
  try {
    const task = (await import(module)) as Task;
    say({ value: await task.run(input, (progress, sentence) => say({ progress, ...(sentence === undefined ? {} : { sentence }) })) });
  } catch (error) {
    if (error instanceof InputError) say({ refused: { code: error.code, field: error.field, problem: error.problem, remedy: error.remedy } });
    else say({ broken: error instanceof Error ? (error.stack ?? error.message) : String(error) });
  }
});
