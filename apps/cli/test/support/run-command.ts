import { jest } from '@jest/globals';
import { main } from '../../src/main.js';

export interface Outcome {
  readonly printed: string;
  readonly complained: string;
  readonly code: number;
}

/** Runs one command line in this process, as the program does after building; no terminal is there to ask on. */
export async function runCommand(args: readonly string[], env: Readonly<Record<string, string>> = {}): Promise<Outcome> {
  const lines = { log: [] as string[], error: [] as string[] };
  const spies = (['log', 'error'] as const).map((kind) => jest.spyOn(console, kind).mockImplementation((...words) => void lines[kind].push(words.join(' '))));
  const envBefore = { ...process.env };
  const codeBefore = process.exitCode;
  process.exitCode = 0;
  Object.assign(process.env, env);
  try {
    await main(args);
    return { printed: lines.log.join('\n'), complained: lines.error.join('\n'), code: Number(process.exitCode) };
  } finally {
    process.exitCode = codeBefore;
    process.env = envBefore;
    for (const spy of spies) spy.mockRestore();
  }
}
