import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const recomputePolicies: Policies = {
  'Query.recompute': 'member',
  'Query.recomputeRuns': 'member',
  'Mutation.recomputeAll': ['RESEARCHER', 'MANAGER', 'AUDITOR', 'ADMINISTRATOR'],
};

export const recomputeTokenScopes: TokenScopes = {
  'Query.recompute': ['READ'],
  'Query.recomputeRuns': ['READ'],
};
