import { ApolloLink, CombinedGraphQLErrors, Observable, ServerError } from '@apollo/client';
import type { TypedDocumentNode, OperationVariables } from '@apollo/client';
import { getOperationAST } from 'graphql';
import { useSyncExternalStore } from 'react';
import { momentNow } from '../ui/time.js';
import { actingText, sameAccount } from './acting-for.js';
import type { Account } from './acting-for.js';
import { answerCame, noAnswerCame } from './reach.js';
import { readStored, storeRead } from './store.js';

/** For the context of a query: its last answer is kept on this device and given when the server gives none. */
export const forOffline = { forOffline: true } as const;

/** True where no server was reached, or only something before it that says so. */
export function gotNoAnswer(error: unknown): boolean {
  if (CombinedGraphQLErrors.is(error)) return false;
  if (ServerError.is(error)) return error.statusCode >= 502 && error.statusCode <= 504;
  return !(error instanceof Error && error.name === 'AbortError');
}

const inOrder = (_key: string, value: unknown): unknown =>
  value !== null && typeof value === 'object' && !Array.isArray(value) ? Object.fromEntries(Object.entries(value).sort(([a], [b]) => a.localeCompare(b))) : value;

const keyOf = (name: string, variables: unknown): string => `${name} ${JSON.stringify(variables ?? {}, inOrder)}`;

/** By operation and variables: since when the answer shown stands, where it is one from this device. */
const shownAsOf = new Map<string, string>();
const listeners = new Set<() => void>();

function tell(key: string, asOf: string | null): void {
  if (shownAsOf.get(key) === (asOf ?? undefined)) return;
  if (asOf === null) shownAsOf.delete(key);
  else shownAsOf.set(key, asOf);
  for (const listener of listeners) listener();
}

const subscribe = (listener: () => void): (() => void) => {
  listeners.add(listener);
  return () => listeners.delete(listener);
};

/** The moment of an answer that came from this device, null where the server gave it. */
export function useAsOf<V extends OperationVariables>(document: TypedDocumentNode<unknown, V>, variables?: V): string | null {
  const key = keyOf(getOperationAST(document, null)?.name?.value ?? '', variables);
  return useSyncExternalStore(subscribe, () => shownAsOf.get(key) ?? null);
}

/** After somebody else signed in: nothing on the screen is from this device any more. */
export function forgetShown(): void {
  shownAsOf.clear();
  for (const listener of listeners) listener();
}

/** Tells from every request whether the server answers. */
export const watchReach = (): ApolloLink => new ApolloLink((operation, forward) => new Observable((observer) => {
  const subscription = forward(operation).subscribe({
    next: (result) => {
      answerCame();
      observer.next(result);
    },
    error: (error: unknown) => {
      if (gotNoAnswer(error)) noAnswerCame();
      observer.error(error);
    },
    complete: () => observer.complete(),
  });
  return () => subscription.unsubscribe();
}));

/** Keeps the answers of queries marked `forOffline` for the account signed in, and gives them when no server answers. */
export const storedReads = (account: () => Account | null): ApolloLink => new ApolloLink((operation, forward) => {
  if (operation.getContext()['forOffline'] !== true) return forward(operation);
  const who = account();
  if (!who) return forward(operation);
  const asked = keyOf(operation.operationName ?? '', operation.variables);
  const key = `${actingText(who)} ${asked}`;
  return new Observable((observer) => {
    const subscription = forward(operation).subscribe({
      next: (result) => {
        tell(asked, null);
        // An answer that arrives after the next person signed in is not kept.
        if (result.data && !result.errors && sameAccount(account(), who)) void storeRead({ key, account: actingText(who), data: result.data, asOf: momentNow() }).catch(() => undefined);
        observer.next(result);
      },
      error: (error: unknown) => {
        if (!gotNoAnswer(error)) return observer.error(error);
        readStored(key).catch(() => undefined).then((stored) => {
          if (!stored || !sameAccount(account(), who)) return observer.error(error);
          tell(asked, stored.asOf);
          observer.next({ data: stored.data as Record<string, unknown> });
          observer.complete();
        });
      },
      complete: () => observer.complete(),
    });
    return () => subscription.unsubscribe();
  });
});
