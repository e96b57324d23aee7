import { randomBytes } from 'node:crypto';
import { v7 as uuidv7 } from 'uuid';
import { serve, type Served } from '../../apps/api/src/main.js';
import type { Role } from '../../apps/api/src/generated/schema.js';
import { createTestDatabase, type TestDatabase } from './database.js';

export const ROLES: readonly Role[] = ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'AUDITOR', 'FIELD_ENGINEER', 'ADMINISTRATOR'];
export const PASSWORD = 'a password for tests';

interface Answer<T> {
  readonly data: T;
  readonly errors?: readonly { readonly message: string; readonly extensions: { readonly code: string } }[];
}

/** Asks the API as one person, with that person's session cookie. */
export interface Client {
  readonly email: string;
  /** Data of an operation; throws when it has errors. */
  ask<T>(operation: string, variables?: object): Promise<T>;
  /** Data and errors of an operation. */
  answer<T>(operation: string, variables?: object): Promise<Answer<T>>;
  /** Any request beside GraphQL, with the same cookie. */
  request(path: string, init?: RequestInit): Promise<Response>;
}

export interface TestLab {
  readonly labId: string;
  readonly name: string;
  as(role: Role): Client;
}

export interface TestServer {
  readonly url: string;
  readonly database: TestDatabase;
  readonly served: Served;
  /** Signs the ledgers of its labs. */
  readonly ledgerKey: string;
  openLab(name: string): Promise<TestLab>;
  stranger(): Client;
  close(): Promise<void>;
}

export const newId = (): string => uuidv7();

/**
 * The whole API on a database of its own, listening on a free port of the loopback.
 *
 * @param webDir  another folder of built pages than the usual one
 * @param nights  it starts the nightly work too, whenever the hour comes
 */
export async function startTestServer(webDir?: string, nights = false): Promise<TestServer> {
  const database = await createTestDatabase();
  const ledgerKey = randomBytes(32).toString('base64');
  const served = await serve({ databaseUrl: database.appUrl, port: 0, poolSize: 8, ledgerKey, nights, ...(webDir ? { webDir } : {}) });
  return {
    url: served.url,
    database,
    served,
    ledgerKey,
    openLab: (name) => openLab(served, name),
    stranger: () => client(served.url, 'nobody', () => ''),
    close: async () => {
      await served.close();
      await database.drop();
    },
  };
}

async function openLab(served: Served, name: string): Promise<TestLab> {
  const slug = name.toLowerCase().replace(/\W+/g, '-');
  const emailOf = (role: Role): string => `${role.toLowerCase()}@${slug}.example`;
  const { labId } = await served.openLab(
    name,
    ROLES.map((role) => ({ email: emailOf(role), displayName: `${role.toLowerCase().replace('_', ' ')} of ${name}`, password: PASSWORD, roles: [role] })),
  );
  const clients = new Map<Role, Client>();
  for (const role of ROLES) clients.set(role, await signIn(served.url, emailOf(role), PASSWORD));
  return { labId, name, as: (role) => clients.get(role)! };
}

export async function signIn(url: string, email: string, password: string): Promise<Client> {
  const response = await post(url, '', 'mutation ($email: String!, $password: String!) { signIn(email: $email, password: $password) { problem { message } } }', { email, password });
  const { data } = (await response.json()) as Answer<{ signIn: { problem: { message: string } | null } }>;
  if (data.signIn.problem) throw new Error(data.signIn.problem.message);
  const cookie = response.headers.getSetCookie()[0]!.split(';')[0]!;
  return client(url, email, () => cookie);
}

function client(url: string, email: string, cookie: () => string): Client {
  const answer = async <T>(operation: string, variables: object = {}): Promise<Answer<T>> =>
    (await (await post(url, cookie(), operation, variables)).json()) as Answer<T>;
  return {
    email,
    answer,
    request: (path, init = {}) => fetch(`${url}${path}`, { ...init, headers: { cookie: cookie(), ...init.headers } }),
    ask: async <T>(operation: string, variables?: object): Promise<T> => {
      const { data, errors } = await answer<T>(operation, variables);
      if (errors) throw new Error(errors.map(({ message }) => message).join('\n'));
      return data;
    },
  };
}

const post = (url: string, cookie: string, query: string, variables: object): Promise<Response> =>
  fetch(`${url}/graphql`, {
    method: 'POST',
    headers: { 'content-type': 'application/json', cookie },
    body: JSON.stringify({ query, variables }),
  });
