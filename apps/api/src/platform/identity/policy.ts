import { defaultFieldResolver, GraphQLError, type GraphQLFieldResolver, type GraphQLSchema } from 'graphql';
import type { Role } from '../../generated/schema.js';
import type { RequestContext } from '../graphql/context.js';
import { checkTokenScopes, tokenReaches, type TokenScopes } from './token-scopes.js';

/** Who may use a root field: anybody, anybody signed in to a lab, or members with one of the roles. */
export type Policy = 'anybody' | 'member' | readonly Role[];

/** Policies by field, for example `{ 'Mutation.recordWeighing': ['TECHNICIAN'] }`. Each module declares its own. */
export type Policies = Readonly<Record<string, Policy>>;

const refusal = (code: 'UNAUTHENTICATED' | 'FORBIDDEN', message: string): GraphQLError => new GraphQLError(message, { extensions: { code } });

function demand(field: string, policy: Policy, scopes: TokenScopes, context: RequestContext): void {
  // Whoever shows a token means to act by it: a dead one is not answered as a stranger.
  if (context.tokenRefused) throw refusal('UNAUTHENTICATED', 'The access token is unknown, revoked or expired. Make a new one on the Lab screen.');
  if (context.actor && !tokenReaches(context.actor, field, scopes)) {
    throw refusal('FORBIDDEN', `${field} lies outside the scopes of the token ${context.actor.token!.label}. Use a token with another scope, or sign in.`);
  }
  if (policy === 'anybody') return;
  if (!context.actor) {
    throw refusal('UNAUTHENTICATED', 'Nobody is signed in. Sign in and try again.');
  }
  if (policy !== 'member' && !context.actor.roles.some((role) => policy.includes(role))) {
    throw refusal('FORBIDDEN', `${field} needs one of the roles ${policy.join(', ').toLowerCase().replaceAll('_', ' ')}. Ask an administrator of the lab.`);
  }
}

/** News for as long as whoever subscribed stands: a revoked token or an ended session hears nothing more. */
function whileStanding(news: AsyncIterableIterator<unknown>, context: RequestContext): AsyncIterableIterator<unknown> {
  const end = (): Promise<IteratorResult<unknown>> => news.return?.() ?? Promise.resolve({ value: undefined, done: true });
  return {
    next: async () => {
      const next = await news.next();
      return next.done || (await context.stands()) ? next : end();
    },
    return: end,
    throw: (error) => news.throw?.(error) ?? Promise.reject(error),
    [Symbol.asyncIterator]() { return this; },
  };
}

/**
 * Puts each root field behind its policy and, for access tokens, behind its scopes. Deny by default: a field without a policy, or a policy without a field, stops
 * the start, because a forgotten one must not be found by a stranger.
 */
export function enforcePolicies(schema: GraphQLSchema, policies: Policies, scopes: TokenScopes = {}): GraphQLSchema {
  checkTokenScopes(schema, scopes);
  const unused = new Set(Object.keys(policies));
  for (const type of [schema.getQueryType(), schema.getMutationType(), schema.getSubscriptionType()]) {
    for (const field of Object.values(type?.getFields() ?? {})) {
      const name = `${type!.name}.${field.name}`;
      const policy = policies[name];
      if (!policy) throw new Error(`${name} has no policy. Declare one in its module's policy file.`);
      unused.delete(name);
      const resolve: GraphQLFieldResolver<unknown, RequestContext> = field.resolve ?? defaultFieldResolver;
      field.resolve = (source, args, context: RequestContext, info) => {
        if (type !== schema.getSubscriptionType()) demand(name, policy, scopes, context);
        return resolve(source, args, context, info);
      };
      const { subscribe } = field;
      if (subscribe) {
        field.subscribe = async (source, args, context: RequestContext, info) => {
          demand(name, policy, scopes, context);
          return whileStanding((await subscribe(source, args, context, info)) as AsyncIterableIterator<unknown>, context);
        };
      }
    }
  }
  if (unused.size > 0) throw new Error(`Policies for fields that do not exist: ${[...unused].join(', ')}`);
  return schema;
}
