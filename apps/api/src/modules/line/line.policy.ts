import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const linePolicies: Policies = {
  'Query.heardLines': 'member',
  'Mutation.setLineFormat': ['RESEARCHER', 'MANAGER'],
  'Mutation.hearLine': ['TECHNICIAN', 'RESEARCHER', 'MANAGER'],
  'Subscription.lineHeard': 'member',
};

export const lineTokenScopes: TokenScopes = {
  'Query.heardLines': ['LISTEN', 'BENCH'],
  'Mutation.hearLine': ['LISTEN'],
  'Subscription.lineHeard': ['LISTEN', 'BENCH'],
};
