import { ApolloClient, ApolloLink, CombinedGraphQLErrors, HttpLink, InMemoryCache, ServerError } from '@apollo/client';
import { ErrorLink } from '@apollo/client/link/error';
import { GraphQLWsLink } from '@apollo/client/link/subscriptions';
import { OperationTypeNode } from 'graphql';
import { createClient } from 'graphql-ws';
import { announceReconnection } from '../ui/live.js';

function saysSignedOut(error: unknown): boolean {
  if (ServerError.is(error)) return error.statusCode === 401;
  return CombinedGraphQLErrors.is(error) && error.errors.some((each) => each.extensions?.['code'] === 'UNAUTHENTICATED');
}

export interface ServerLink {
  readonly client: ApolloClient;
  /** Opens the web socket anew: the server binds it to the person and lab it was opened for. */
  readonly restartSocket: () => void;
}

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
    on: {
      connected: () => {
        connections += 1;
        if (connections > 1) announceReconnection();
      },
    },
  });
  const socket = new GraphQLWsLink(sockets);
  const watchSession = new ErrorLink(({ error }) => {
    if (saysSignedOut(error)) onSignedOut();
  });
  const client = new ApolloClient({
    link: ApolloLink.from([
      watchSession,
      ApolloLink.split(({ operationType }) => operationType === OperationTypeNode.SUBSCRIPTION, socket, http),
    ]),
    cache: new InMemoryCache(),
    defaultOptions: {
      watchQuery: { fetchPolicy: 'cache-and-network', nextFetchPolicy: 'cache-first' },
      query: { fetchPolicy: 'network-only' },
    },
  });
  return { client, restartSocket: () => sockets.terminate() };
}
