import { CombinedGraphQLErrors, ServerError } from '@apollo/client';
import type { ApolloClient, OperationVariables, TypedDocumentNode } from '@apollo/client';
import { useApolloClient } from '@apollo/client/react';
import { useCallback } from 'react';
import type { FlagSeverity, ProblemCode } from '../generated/graphql.js';

/** A Problem of the contract as every document asks for it: `problem { code field message remedy }`. */
export interface ProblemSeen {
  readonly code: ProblemCode;
  readonly field?: string | null;
  readonly message: string;
  readonly remedy: string;
}

/** A Flag of the contract: `flags { code severity message }`. */
export interface FlagSeen {
  readonly code: string;
  readonly severity: FlagSeverity;
  readonly message: string;
}

/**
 * What became of a mutation.
 * recorded: the server wrote it (or had written it before, under the same id).
 * refused: the server answered with a Problem and wrote nothing. With `fault` the failure is the server's own: the same may pass later.
 * not-sent: no answer came. It may have been written: send it again with the same id and it stays one write.
 */
export type Sent<P> =
  | { readonly outcome: 'recorded'; readonly payload: P }
  | { readonly outcome: 'refused'; readonly problem: ProblemSeen; readonly payload: P | null; readonly fault?: boolean }
  | { readonly outcome: 'not-sent'; readonly message: string };

/** The payload of a mutation with one root field. */
export type PayloadOf<D> = D extends object ? NonNullable<D[Exclude<keyof D, '__typename'>]> : never;

function problemIn(payload: unknown): ProblemSeen | null {
  if (typeof payload !== 'object' || payload === null || !('problem' in payload)) return null;
  return (payload.problem as ProblemSeen | null | undefined) ?? null;
}

/** A fault the server reported outside the payload: the person learns what to do, never the internals. */
function faultOf(error: CombinedGraphQLErrors): ProblemSeen {
  const [first] = error.errors;
  const code = first?.extensions?.['code'];
  if (code === 'UNAUTHENTICATED') {
    return { code: 'CREDENTIALS', message: 'The session has ended.', remedy: 'Sign in again; what you typed is still here.' };
  }
  if (code === 'FORBIDDEN') {
    return { code: 'STATE', message: first?.message ?? 'Your roles in this lab do not allow this.', remedy: 'Ask a person with the role to do it, or an administrator to give you the role.' };
  }
  return { code: 'INPUT', message: first?.message ?? 'The server could not do this.', remedy: 'Nothing was written. Try again; if it happens again, tell whoever runs the server.' };
}

/** True when the server was reached and understood, so that sending the same again would get the same answer. */
export function wasAnswered(error: unknown): error is CombinedGraphQLErrors {
  return CombinedGraphQLErrors.is(error);
}

const isFault = (error: CombinedGraphQLErrors): boolean => error.errors.some(({ extensions }) => (extensions?.['code'] ?? 'INTERNAL_SERVER_ERROR') === 'INTERNAL_SERVER_ERROR');

/** Answers of HTTP that say "not now" or "not you", rather than that the request is wrong. */
const PASSING = [401, 408, 425, 429];

/**
 * Sends a mutation and sorts what came of it. The id of the new record is in the variables, made by `newId`: a second
 * send with the same variables is the same write.
 */
export async function payloadOf<D, V extends OperationVariables>(client: ApolloClient, mutation: TypedDocumentNode<D, V>, variables: V, context: object = {}): Promise<Sent<PayloadOf<D>>> {
  try {
    const { data } = await client.mutate({ mutation, variables, context } as never);
    const [payload] = Object.entries((data ?? {}) as object).flatMap(([name, value]) => (name === '__typename' ? [] : [value]));
    const problem = problemIn(payload);
    return problem ? { outcome: 'refused', problem, payload: payload as PayloadOf<D> } : { outcome: 'recorded', payload: payload as PayloadOf<D> };
  } catch (error) {
    if (wasAnswered(error)) return { outcome: 'refused', problem: faultOf(error), payload: null, fault: isFault(error) };
    if (ServerError.is(error) && error.statusCode >= 400 && error.statusCode < 500 && !PASSING.includes(error.statusCode)) {
      const problem = { code: 'INPUT', message: `The server did not understand what this page sent (answer ${error.statusCode}).`, remedy: 'Load the page again: it may be older than the server. If it happens again, tell whoever runs the server.' } as const;
      return { outcome: 'refused', problem, payload: null, fault: true };
    }
    const status = ServerError.is(error) ? ` (answer ${error.statusCode})` : '';
    return { outcome: 'not-sent', message: `No answer came from the server${status}.` };
  }
}

/** `payloadOf` with the page's own link to the server. */
export function usePayload(): <D, V extends OperationVariables>(mutation: TypedDocumentNode<D, V>, variables: V) => Promise<Sent<PayloadOf<D>>> {
  const client = useApolloClient();
  return useCallback((mutation, variables) => payloadOf(client, mutation, variables), [client]);
}
