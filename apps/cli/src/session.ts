import type { Command } from 'commander';
import { signIn, type ApiClient } from './client.js';
import { OperatorFailure } from './failure.js';
import { ask, askHidden, canAsk } from './terminal.js';

export interface SessionOptions {
  readonly url: string;
  readonly email?: string;
  readonly password?: string;
}

/** Gives a command the options by which it reaches a running server as one person. */
export function withSession(command: Command): Command {
  return command
    .option('--url <address>', 'address of the server (THREADLEAF_URL)', process.env['THREADLEAF_URL'] ?? 'http://127.0.0.1:4180')
    .option('--email <address>', 'who signs in (THREADLEAF_EMAIL; asked for on a terminal)')
    .option('--password <text>', 'better by THREADLEAF_PASSWORD, or typed when asked: a command line is seen by others on the machine');
}

/** Signs in; asks for what is missing where somebody can answer. */
export async function openSession(options: SessionOptions): Promise<ApiClient> {
  if (!URL.canParse(options.url)) throw new OperatorFailure(`--url: "${options.url}" is not an address. Write it like http://127.0.0.1:4180.`);
  const email = options.email ?? process.env['THREADLEAF_EMAIL'] ?? (await orRefuse('E-mail', '--email or THREADLEAF_EMAIL', ask));
  const password = options.password ?? process.env['THREADLEAF_PASSWORD'] ?? (await orRefuse('Password', 'THREADLEAF_PASSWORD', askHidden));
  return signIn(options.url, email, password, codeOf());
}

/** The code of a second factor is good for half a minute: given for one command, or asked for. */
function codeOf(): (() => Promise<string>) | null {
  const given = process.env['THREADLEAF_CODE'];
  if (given) return () => Promise.resolve(given);
  return canAsk() ? () => ask('Code of your authenticator: ') : null;
}

function orRefuse(what: string, setting: string, asking: (question: string) => Promise<string>): Promise<string> {
  if (!canAsk()) throw new OperatorFailure(`${what} is missing, and there is no terminal to ask on. Give it by ${setting}.`);
  return asking(`${what}: `);
}
