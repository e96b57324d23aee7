import type { Command } from 'commander';
import { v7 as uuidv7 } from 'uuid';
import type { ApiClient } from '../client.js';
import { OperatorFailure } from '../failure.js';
import { reachServer, withSession, type SessionOptions } from '../session.js';

interface AccessToken {
  readonly id: string;
  readonly label: string;
  readonly scopes: readonly string[];
  readonly expiresAt: string;
  readonly revokedAt: string | null;
  readonly stands: boolean;
  readonly recordedBy: { readonly displayName: string };
}

interface CreateOptions extends SessionOptions {
  readonly name: string;
  readonly scope: readonly string[];
  readonly days: string;
}

const FIELDS = 'id label scopes expiresAt revokedAt stands recordedBy { displayName }';
const DAY_MS = 86_400_000;

export function register(program: Command): void {
  const token = program.command('token').description('access tokens, by which scripts, loggers and bench computers act for a person');
  withSession(token
    .command('create')
    .description('make a token; its secret is printed once, alone on stdout')
    .requiredOption('--name <text>', 'what it is for or where it stands, such as "bench computer 2"')
    .requiredOption('--scope <name>', 'read, listen, bench, device, field or calibration; can be given again', (value: string, before: string[] = []) => [...before, value])
    .option('--days <number>', 'how long it is good for, at most 400', '90'))
    .action(create);
  withSession(token.command('list').description('tokens with their scopes, newest first: all of the lab for those who oversee it, else one\'s own')).action(list);
  withSession(token
    .command('revoke')
    .description('end a token within seconds, for good')
    .argument('<token>', 'its id or its name')
    .requiredOption('--reason <text>', 'why; it stands in the record'))
    .action(revoke);
}

async function create(options: CreateOptions): Promise<void> {
  const days = Number(options.days);
  if (!(days > 0)) throw new OperatorFailure(`--days: "${options.days}" is not a number of days. Give one such as 90.`);
  const { client, password } = await reachServer(options);
  const input = {
    id: uuidv7(), label: options.name, scopes: options.scope.map((scope) => scope.toUpperCase()), expiresAt: new Date(Date.now() + days * DAY_MS).toISOString(), password,
  };
  const { secret, accessToken } = await client.send<{ secret: string; accessToken: AccessToken }>('createAccessToken', 'CreateAccessTokenInput', input, `secret accessToken { ${FIELDS} }`);
  console.error(`Token ${tellToken(accessToken)}\nIts secret, shown this once; give it to the program as THREADLEAF_TOKEN:`);
  console.log(secret);
}

async function list(options: SessionOptions): Promise<void> {
  const tokens = await tokensSeen((await reachServer(options)).client);
  console.log(tokens.length === 0 ? 'No access token was made yet.' : tokens.map((token) => `${token.id}  ${tellToken(token)}`).join('\n'));
}

async function revoke(named: string, options: SessionOptions & { readonly reason: string }): Promise<void> {
  const { client } = await reachServer(options);
  const found = (await tokensSeen(client)).find(({ id, label }) => id === named || label.toLowerCase() === named.toLowerCase());
  if (!found) throw new OperatorFailure(`No token is called "${named}". threadleaf token list shows those there are.`);
  await client.send('revokeAccessToken', 'RevokeAccessTokenInput', { id: uuidv7(), accessTokenId: found.id, reason: options.reason });
  console.log(`Token ${found.label} is revoked.`);
}

const tokensSeen = async (client: ApiClient): Promise<AccessToken[]> =>
  (await client.ask<{ accessTokens: AccessToken[] }>(`{ accessTokens { ${FIELDS} } }`)).accessTokens;

/** "bench computer 2: listen, until 2026-09-01, acts for Wren Marlpit". */
export function tellToken({ label, scopes, expiresAt, revokedAt, stands, recordedBy }: AccessToken): string {
  const until = revokedAt ? `revoked ${revokedAt.slice(0, 10)}` : `${stands ? 'until' : 'expired'} ${expiresAt.slice(0, 10)}`;
  return `${label}: ${scopes.join(', ').toLowerCase()}, ${until}, acts for ${recordedBy.displayName}`;
}
