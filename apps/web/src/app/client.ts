import { ApolloClient, ApolloLink, HttpLink, InMemoryCache } from '@apollo/client';
import { GraphQLWsLink } from '@apollo/client/link/subscriptions';
import { OperationTypeNode } from 'graphql';
import { createClient } from 'graphql-ws';
import type { Account } from '../offline/acting-for.js';
import { storedReads, watchReach } from '../offline/stored-reads.js';
import { announceReconnection } from '../ui/live.js';
import { sessionWatch } from './session-watch.js';

export interface ServerLink {
  readonly client: ApolloClient;
  /** Opens the web socket anew: the server binds it to the person and lab it was opened for. */
  readonly restartSocket: () => void;
  /** For whom this page acts from now on; said with every request, so that a session that became another's is noticed. */
  readonly actFor: (account: Account | null) => void;
}

/** The longest pause before the web socket is tried again. */
const MOST_PAUSE_MS = 8_000;

/**
 * The one way to the server: queries and mutations over HTTP with the session cookie, subscriptions over a web socket.
 * `onSignedOut` is called when the server no longer knows the session, so that the person can sign in without losing the page.
 */
export function linkToServer(onSignedOut: () => void): ServerLink {
  const http = new HttpLink({
    uri: '/graphql',
    credentials: 'same-origin',
    // Apollo Server's guard against cross-site requests asks for a header that a plain form cannot send.
    headers: { 'apollo-require-preflight': 'true' },
  });
  const socketUrl = `${location.protocol === 'https:' ? 'wss' : 'ws'}://${location.host}/graphql`;
  let connections = 0;
  const sockets = createClient({
    url: socketUrl,
    lazy: true,
    retryAttempts: Infinity,
    shouldRetry: () => true,
    retryWait: (tries) => new Promise((resolve) => setTimeout(resolve, Math.min(MOST_PAUSE_MS, 500 * 2 ** tries) * (0.75 + Math.random() / 2))),
    on: {
      connected: () => {
        connections += 1;
        if (connections > 1) announceReconnection();
      },
    },
  });
  const socket = new GraphQLWsLink(sockets);
  const watch = sessionWatch(onSignedOut);
  const client = new ApolloClient({
    link: ApolloLink.from([
      watch.link,
      storedReads(watch.account),
      ApolloLink.split(({ operationType }) => operationType === OperationTypeNode.SUBSCRIPTION, socket, ApolloLink.from([watchReach(), http])),
    ]),
    cache: new InMemoryCache(),
    defaultOptions: {
      watchQuery: { fetchPolicy: 'cache-and-network', nextFetchPolicy: 'cache-first' },
      query: { fetchPolicy: 'network-only' },
    },
  });
  return { client, restartSocket: () => sockets.terminate(), actFor: watch.actFor };
}
