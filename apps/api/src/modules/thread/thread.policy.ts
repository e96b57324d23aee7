import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const threadPolicies: Policies = {
  'Query.thread': 'member',
  'Query.recordKind': 'member',
};

export const threadTokenScopes: TokenScopes = {
  'Query.thread': ['READ'],
  'Query.recordKind': ['READ'],
};
