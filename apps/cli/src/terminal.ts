import { createInterface } from 'node:readline';
import { Writable } from 'node:stream';
import { OperatorFailure } from './failure.js';

/** Whether a person sits at the terminal who can be asked. */
export const canAsk = (): boolean => process.stdin.isTTY === true && process.stderr.isTTY === true;

/** One line typed in answer to a question, which goes to stderr: what is piped on stays clean. */
export function ask(question: string): Promise<string> {
  return answer(question, process.stderr);
}

/** The same without showing what is typed. */
export async function askHidden(question: string): Promise<string> {
  process.stderr.write(question);
  const unseen = new Writable({ write: (_chunk, _encoding, done) => done() });
  try {
    return await answer('', unseen);
  } finally {
    process.stderr.write('\n');
  }
}

export async function confirmed(question: string): Promise<boolean> {
  return /^y(es)?$/i.test((await ask(`${question} [y/N] `)).trim());
}

function answer(question: string, output: NodeJS.WritableStream): Promise<string> {
  const lines = createInterface({ input: process.stdin, output, terminal: true });
  return new Promise((resolve, reject) => {
    lines.once('close', () => reject(new OperatorFailure('Stopped; nothing was done.')));
    lines.question(question, (typed) => {
      resolve(typed);
      lines.close();
    });
  });
}
