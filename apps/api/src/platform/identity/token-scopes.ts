import type { GraphQLSchema } from 'graphql';
import type { Role, TokenScope } from '../../generated/schema.js';
import type { Actor } from './actor.js';

/**
 * Token scopes that a root field lies in, for example `{ 'Mutation.recordWeighing': ['BENCH'] }`; declared beside the
 * policies. Deny by default: a field that stands nowhere here is reached by no token. What is no field of GraphQL is
 * named by method and path: `{ 'POST /files': ['BENCH', 'FIELD'] }`.
 */
export type TokenScopes = Readonly<Record<string, readonly TokenScope[]>>;

/** Who may make a token with a scope: those whose roles could do with their own hands what it is for. */
export const SCOPE_ROLES: Readonly<Record<TokenScope, readonly Role[]>> = {
  READ: ['RESEARCHER', 'MANAGER', 'AUDITOR', 'FIELD_ENGINEER'],
  LISTEN: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'],
  BENCH: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'],
  DEVICE: ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'],
  FIELD: ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'],
  CALIBRATION: ['RESEARCHER', 'MANAGER'],
};

/** Whether the actor may use a field as far as tokens are concerned: a signed-in hand always, a token within its scopes. */
export function tokenReaches(actor: Actor, field: string, scopes: TokenScopes): boolean {
  const { token } = actor;
  return token === null || (scopes[field] ?? []).some((scope) => token.scopes.includes(scope));
}

/** A scope for a field that does not exist guards nothing, and a reading token must not write: both stop the start. */
export function checkTokenScopes(schema: GraphQLSchema, scopes: TokenScopes): void {
  const types = [schema.getQueryType(), schema.getMutationType(), schema.getSubscriptionType()];
  const fields = new Set(types.flatMap((type) => Object.keys(type?.getFields() ?? {}).map((field) => `${type!.name}.${field}`)));
  for (const [name, within] of Object.entries(scopes)) {
    const isRoute = /^(GET|POST) \//.test(name);
    if (!isRoute && !fields.has(name)) throw new Error(`Token scopes for a field that does not exist: ${name}`);
    if (within.includes('READ') && /^(Mutation\.|POST )/.test(name)) throw new Error(`${name} writes: it cannot lie in the scope READ.`);
  }
}
