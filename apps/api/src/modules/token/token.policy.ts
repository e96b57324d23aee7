import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

/** Which roles may make a token depends on its scopes: see SCOPE_ROLES. No token reaches what makes or ends tokens. */
export const tokenPolicies: Policies = {
  'Query.accessTokens': 'member',
  'Query.tokenInUse': 'member',
  'Mutation.createAccessToken': 'member',
  'Mutation.revokeAccessToken': 'member',
};

export const tokenTokenScopes: TokenScopes = {
  'Query.tokenInUse': ['READ', 'LISTEN', 'BENCH', 'DEVICE', 'FIELD', 'CALIBRATION'],
};
