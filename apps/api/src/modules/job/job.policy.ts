import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const jobPolicies: Policies = {
  'Query.job': 'member',
  'Query.jobs': 'member',
  // Whose job it is, is asked in the use case.
  'Mutation.cancelJob': 'member',
  'Mutation.retryJob': 'member',
};

export const jobTokenScopes: TokenScopes = { 'Query.job': ['READ', 'CALIBRATION'] };
