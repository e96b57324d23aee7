import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const waterPolicies: Policies = {
  'Query.rwcSeries': 'member',
  'Mutation.computeRwcSeries': ['TECHNICIAN', 'RESEARCHER', 'MANAGER'],
};

export const waterTokenScopes: TokenScopes = {
  'Query.rwcSeries': ['READ', 'BENCH'],
};
