import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const faultPolicies: Policies = { 'Query.touchedBy': 'member', 'Query.faultMoves': 'member' };

export const faultTokenScopes: TokenScopes = {
  'Query.touchedBy': ['READ'],
  'Query.faultMoves': ['READ'],
};
