import { defaultFieldResolver, GraphQLError, type GraphQLFieldResolver, type GraphQLSchema } from 'graphql';
import type { Role } from '../../generated/schema.js';
import type { RequestContext } from '../graphql/context.js';

/** Who may use a root field: anybody, anybody signed in to a lab, or members with one of the roles. */
export type Policy = 'anybody' | 'member' | readonly Role[];

/** Policies by field, for example `{ 'Mutation.recordWeighing': ['TECHNICIAN'] }`. Each module declares its own. */
export type Policies = Readonly<Record<string, Policy>>;

function demand(field: string, policy: Policy, context: RequestContext): void {
  if (policy === 'anybody') return;
  if (!context.actor) {
    throw new GraphQLError('Nobody is signed in. Sign in and try again.', { extensions: { code: 'UNAUTHENTICATED' } });
  }
  if (policy !== 'member' && !context.actor.roles.some((role) => policy.includes(role))) {
    throw new GraphQLError(
      `${field} needs one of the roles ${policy.join(', ').toLowerCase().replaceAll('_', ' ')}. Ask an administrator of the lab.`,
      { extensions: { code: 'FORBIDDEN' } },
    );
  }
}

/**
 * Puts each root field behind its policy. Deny by default: a field without a policy, or a policy without a field, stops
 * the start, because a forgotten one must not be found by a stranger.
 */
export function enforcePolicies(schema: GraphQLSchema, policies: Policies): GraphQLSchema {
  const unused = new Set(Object.keys(policies));
  for (const type of [schema.getQueryType(), schema.getMutationType(), schema.getSubscriptionType()]) {
    for (const field of Object.values(type?.getFields() ?? {})) {
      const name = `${type!.name}.${field.name}`;
      const policy = policies[name];
      if (!policy) throw new Error(`${name} has no policy. Declare one in its module's policy file.`);
      unused.delete(name);
      const resolve: GraphQLFieldResolver<unknown, RequestContext> = field.resolve ?? defaultFieldResolver;
      field.resolve = (source, args, context: RequestContext, info) => {
        if (type !== schema.getSubscriptionType()) demand(name, policy, context);
        return resolve(source, args, context, info);
      };
      const { subscribe } = field;
      if (subscribe) {
        field.subscribe = (source, args, context: RequestContext, info) => {
          demand(name, policy, context);
          return subscribe(source, args, context, info);
        };
      }
    }
  }
  if (unused.size > 0) throw new Error(`Policies for fields that do not exist: ${[...unused].join(', ')}`);
  return schema;
}
