import type { Command } from 'commander';
import { byToken, signIn, type ApiClient } from './client.js';
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

/** By THREADLEAF_TOKEN where it is set and nobody is named; else signs in, and asks for what is missing where somebody can answer. */
export async function openSession(options: SessionOptions): Promise<ApiClient> {
  const secret = process.env['THREADLEAF_TOKEN'];
  if (!secret || options.email !== undefined || process.env['THREADLEAF_EMAIL'] !== undefined) return (await reachServer(options)).client;
  return byToken(addressOf(options), secret);
}

/** Signs in, and gives the client with the password that was given, for what the server asks it again for. */
export async function reachServer(options: SessionOptions): Promise<{ client: ApiClient; password: string }> {
  const url = addressOf(options);
  const email = options.email ?? process.env['THREADLEAF_EMAIL'] ?? (await orRefuse('E-mail', '--email or THREADLEAF_EMAIL', ask));
  const password = options.password ?? process.env['THREADLEAF_PASSWORD'] ?? (await orRefuse('Password', 'THREADLEAF_PASSWORD', askHidden));
  return { client: await signIn(url, email, password, codeOf()), password };
}

export function addressOf({ url }: Pick<SessionOptions, 'url'>): string {
  if (!URL.canParse(url)) throw new OperatorFailure(`--url: "${url}" is not an address. Write it like http://127.0.0.1:4180.`);
  return url;
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
