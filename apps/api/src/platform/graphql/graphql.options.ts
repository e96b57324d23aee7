import { join } from 'node:path';
import type { ApolloDriverConfig } from '@nestjs/apollo';
import { unwrapResolverError } from '@apollo/server/errors';
import { ApolloServerPluginCacheControlDisabled } from '@apollo/server/plugin/disabled';
import { ApolloArmor } from '@escape.tech/graphql-armor';
import type { Request, Response } from 'express';
import { GraphQLError, type GraphQLFormattedError, type GraphQLSchema, isInterfaceType, isObjectType } from 'graphql';
import { v7 as uuidv7 } from 'uuid';
import { packageRoot } from '../config/package-root.js';
import type { Database } from '../database/database.js';
import { asProblem } from '../errors/problem.js';
import { peopleByIds } from '../identity/account.repository.js';
import { enforcePolicies, type Policies } from '../identity/policy.js';
import type { TokenScopes } from '../identity/token-scopes.js';
import type { Sessions } from '../identity/sessions.js';
import { RequestContext } from './context.js';
import type { RecordView } from './record-view.js';
import { scalars } from './scalars.js';

/** Limits on one operation: deep enough for the Thread and the bench, too small to lean on the server. */
const armor = new ApolloArmor({
  maxDepth: { n: 14 },
  maxAliases: { n: 30 },
  maxTokens: { n: 4000 },
  costLimit: { maxCost: 50_000, objectCost: 2, scalarCost: 1, depthCostFactor: 1.2, ignoreIntrospection: true },
  blockFieldSuggestion: { enabled: false },
});

/** Every Record says who recorded it, in the same way. */
function resolvePeople(schema: GraphQLSchema): GraphQLSchema {
  const record = schema.getType('Record');
  if (!isInterfaceType(record)) throw new Error('The schema has no interface Record.');
  for (const type of schema.getPossibleTypes(record)) {
    if (!isObjectType(type)) continue;
    type.getFields().recordedBy!.resolve = (row: RecordView, _args, context: RequestContext) => personOf(context, row.recordedById);
  }
  return schema;
}

export function personOf(context: RequestContext, id: string): Promise<{ id: string; displayName: string }> {
  return context.load.batch('person', id, async (tx, ids) => {
    const people = new Map((await peopleByIds(tx, ids)).map((person) => [person.id, person]));
    return ids.map((wanted) => people.get(wanted) ?? { id: wanted, displayName: 'unknown' });
  });
}

/** Expected failures keep their words; bugs are logged under an id and shown without internals. */
function formatError(formatted: GraphQLFormattedError, error: unknown): GraphQLFormattedError {
  const cause = unwrapResolverError(error);
  const expected = asProblem(cause);
  if (expected) {
    const { code, field, message, remedy } = expected.problem;
    return { ...formatted, message: `${message} ${remedy}`, extensions: { code: 'PROBLEM', problem: { code, field, message, remedy } } };
  }
  const code = formatted.extensions?.code;
  if (cause instanceof GraphQLError && code !== 'INTERNAL_SERVER_ERROR') return { ...formatted, extensions: { code } };
  if (code !== undefined && code !== 'INTERNAL_SERVER_ERROR') return { ...formatted, extensions: { code } };
  const id = uuidv7();
  console.error(`Error ${id}:`, cause);
  return {
    message: `Something went wrong on the server; what you entered was not recorded. Tell the administrator the number ${id}.`,
    path: formatted.path,
    extensions: { code: 'INTERNAL_SERVER_ERROR', id },
  };
}

interface ContextSource {
  readonly req?: Request;
  readonly res?: Response;
  /** Of a subscription over WebSocket. */
  readonly extra?: { readonly request: Request };
  /** What a WebSocket client said as it connected: a browser can set no header there. */
  readonly connectionParams?: { readonly authorization?: unknown };
}

/** The request with the token that came another way than by its header. */
function requestOf({ req, extra, connectionParams }: ContextSource): Request | null {
  const request = req ?? extra?.request ?? null;
  const authorization = connectionParams?.authorization;
  return request && typeof authorization === 'string' ? ({ headers: { ...request.headers, authorization } } as Request) : request;
}

export function graphqlOptions(database: Database, sessions: Sessions, policies: Policies, scopes: TokenScopes): Omit<ApolloDriverConfig, 'driver'> {
  const protection = armor.protect();
  return {
    path: '/graphql',
    typePaths: [join(packageRoot, 'apps/api/schema/*.graphql')],
    resolvers: scalars,
    resolverValidationOptions: { requireResolversForResolveType: 'ignore' },
    transformSchema: (schema: GraphQLSchema) => enforcePolicies(resolvePeople(schema), policies, scopes),
    context: async (source: ContextSource) => {
      const request = requestOf(source);
      const { actor, sessionHash, tokenRefused } = request ? await sessions.find(request) : { actor: null, sessionHash: null, tokenRefused: false };
      const stands = async (): Promise<boolean> => (request && (await sessions.find(request)).actor?.labId) === actor?.labId;
      return new RequestContext(database, actor, request, source.res ?? null, sessionHash, tokenRefused, stands);
    },
    subscriptions: { 'graphql-ws': { path: '/graphql' } },
    graphiql: false,
    playground: false,
    introspection: true,
    formatError,
    csrfPrevention: true,
    ...protection,
    plugins: [
      ...protection.plugins,
      // Nothing here may be cached by others; the plugin would stand between each field and its value.
      ApolloServerPluginCacheControlDisabled(),
      {
        requestDidStart: async () => ({
          willSendResponse: async ({ contextValue }) => (contextValue as unknown as RequestContext).end?.(),
        }),
      },
    ],
  } as Omit<ApolloDriverConfig, 'driver'>;
}
