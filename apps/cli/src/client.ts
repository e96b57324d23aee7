import { OperatorFailure, messageOf } from './failure.js';

export interface Problem {
  readonly code: string;
  readonly field: string | null;
  readonly message: string;
  readonly remedy: string;
}

/** The server's refusal of one record, with the field it is about. */
export class RefusedRecord extends OperatorFailure {
  constructor(mutation: string, readonly problem: Problem) {
    super(`${mutation}${problem.field ? `, ${problem.field}` : ''}: ${problem.message} ${problem.remedy}`);
  }
}

interface Answer {
  readonly data?: Record<string, unknown>;
  readonly errors?: readonly { readonly message: string }[];
}

/** One person's way to the API, signed in or by a token of theirs: the same one that the web and other labs' scripts use. */
export interface ApiClient {
  /** Data of an operation. @throws OperatorFailure with the server's words */
  ask<T>(operation: string, variables?: object): Promise<T>;
  /** Payload of a mutation with `input`. @throws RefusedRecord with the problem's field and remedy */
  send<T>(mutation: string, inputType: string, input: object, fields?: string): Promise<T>;
  /** Stores a file under an id. @throws RefusedRecord with the problem's field and remedy */
  storeFile(file: { readonly id: string; readonly name: string; readonly purpose: string }, bytes: Uint8Array): Promise<void>;
}

/**
 * Signs in at a running server.
 *
 * @param code asks for a code of the second factor, where the server wants one; null where nobody can be asked
 */
export async function signIn(url: string, email: string, password: string, code: (() => Promise<string>) | null = null): Promise<ApiClient> {
  const operation = 'mutation ($email: String!, $password: String!, $code: String) { signIn(email: $email, password: $password, code: $code) { problem { code message remedy } } }';
  let response = await post(url, {}, operation, { email, password });
  let { problem } = (await read(response))['signIn'] as { problem: Problem | null };
  if (problem?.code === 'SECOND_FACTOR' && code) {
    response = await post(url, {}, operation, { email, password, code: await code() });
    ({ problem } = (await read(response))['signIn'] as { problem: Problem | null });
  }
  if (problem) throw new OperatorFailure(`${problem.message} ${problem.remedy}`);
  return clientOf(url, { cookie: response.headers.getSetCookie()[0]!.split(';')[0]! });
}

/** Acts by an access token; whether it stands is seen at the first question. */
export const byToken = (url: string, secret: string): ApiClient => clientOf(url, { authorization: `Bearer ${secret}` });

function clientOf(url: string, headers: Readonly<Record<string, string>>): ApiClient {
  const ask = async <T>(text: string, variables: object = {}): Promise<T> => (await read(await post(url, headers, text, variables))) as T;
  return {
    ask,
    storeFile: async (file, bytes) => {
      const sent = { method: 'POST', headers: { 'content-type': 'application/octet-stream', 'x-threadleaf': '1', ...headers }, body: new Uint8Array(bytes) };
      const { problem } = (await (await fetch(new URL(`/files?${new URLSearchParams(file)}`, url), sent)).json()) as { problem: Problem | null };
      if (problem) throw new RefusedRecord('POST /files', problem);
    },
    send: async <T>(mutation: string, inputType: string, input: object, fields = ''): Promise<T> => {
      const data = await ask<Record<string, T & { problem: Problem | null }>>(
        `mutation ($input: ${inputType}!) { ${mutation}(input: $input) { ${fields} problem { code field message remedy } } }`, { input },
      );
      const payload = data[mutation]!;
      if (payload.problem) throw new RefusedRecord(mutation, payload.problem);
      return payload;
    },
  };
}

/** A connection kept open that the server has closed meanwhile. */
const CLOSED = ['ECONNRESET', 'EPIPE', 'UND_ERR_SOCKET'];
const wasClosed = (error: unknown): boolean => CLOSED.includes((error as { readonly cause?: { readonly code?: string } }).cause?.code ?? '');

async function post(url: string, headers: Readonly<Record<string, string>>, query: string, variables: object): Promise<Response> {
  const once = (): Promise<Response> => fetch(new URL('/graphql', url), {
    method: 'POST',
    headers: { 'content-type': 'application/json', ...headers },
    body: JSON.stringify({ query, variables }),
  });
  try {
    // Sent again it is the same write: ids are made here.
    return await once().catch((error: unknown) => (wasClosed(error) ? once() : Promise.reject(error)));
  } catch (error) {
    throw new OperatorFailure(`No Threadleaf server answers at ${url}. Start one with npm start, or name it with --url.`, { cause: error });
  }
}

async function read(response: Response): Promise<Record<string, unknown>> {
  let answer: Answer;
  try {
    answer = (await response.json()) as Answer;
  } catch (error) {
    throw new OperatorFailure(`${response.url} answered ${response.status}, but not as a Threadleaf server: ${messageOf(error)}`);
  }
  if (answer.errors || !answer.data) throw new OperatorFailure(answer.errors?.map(({ message }) => message).join(' ') ?? 'The server gave no data.');
  return answer.data;
}
