import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const hydrationPolicies: Policies = {
  'Query.hydrations': 'member',
  'Mutation.startHydration': ['TECHNICIAN', 'RESEARCHER', 'MANAGER'],
  'Mutation.endHydration': ['TECHNICIAN', 'RESEARCHER', 'MANAGER'],
};

export const hydrationTokenScopes: TokenScopes = {
  'Query.hydrations': ['READ', 'BENCH'],
  'Mutation.startHydration': ['BENCH'],
  'Mutation.endHydration': ['BENCH'],
};
