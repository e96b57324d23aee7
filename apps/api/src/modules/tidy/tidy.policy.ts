import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const tidyPolicies: Policies = { 'Query.tidyTables': 'member' };

export const tidyTokenScopes: TokenScopes = { 'Query.tidyTables': ['READ'] };
