import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const recomputePolicies: Policies = { 'Query.recompute': 'member' };

export const recomputeTokenScopes: TokenScopes = {
  'Query.recompute': ['READ'],
};
