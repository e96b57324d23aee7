import { ApolloLink, CombinedGraphQLErrors, ServerError } from '@apollo/client';
import { ErrorLink } from '@apollo/client/link/error';
import { ACTING_FOR, actingText } from '../offline/acting-for.js';
import type { Account } from '../offline/acting-for.js';

function saysSignedOut(error: unknown): boolean {
  if (ServerError.is(error)) return error.statusCode === 401;
  return CombinedGraphQLErrors.is(error) && error.errors.some((each) => each.extensions?.['code'] === 'UNAUTHENTICATED');
}

export interface SessionWatch {
  readonly link: ApolloLink;
  /** For whom the page acts, now; said with every request that does not say it itself. */
  readonly actFor: (account: Account | null) => void;
  readonly account: () => Account | null;
}

/**
 * Says with every request for whom it is, and calls `onSignedOut` when the server no longer knows the session. An answer
 * to what was asked before the present sign-in, or for another account, is no news of the present session.
 */
export function sessionWatch(onSignedOut: () => void): SessionWatch {
  let account: Account | null = null;
  let signIns = 0;
  // What was captured for another than who is signed in says so itself.
  const sayForWhom = new ApolloLink((operation, forward) => {
    const { headers } = operation.getContext();
    operation.setContext({ signIn: signIns, ...(account && { headers: { [ACTING_FOR]: actingText(account), ...headers } }) });
    return forward(operation);
  });
  const heed = new ErrorLink(({ error, operation }) => {
    const { signIn, headers } = operation.getContext();
    const forWhom = (headers as Record<string, string> | undefined)?.[ACTING_FOR];
    const ofNow = signIn === signIns && (!account || !forWhom || forWhom === actingText(account));
    if (ofNow && saysSignedOut(error)) onSignedOut();
  });
  return {
    link: ApolloLink.from([sayForWhom, heed]),
    actFor: (next) => {
      account = next;
      signIns += 1;
    },
    account: () => account,
  };
}
