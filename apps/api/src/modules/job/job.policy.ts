import type { Policies } from '../../platform/identity/policy.js';

export const jobPolicies: Policies = {
  'Query.job': 'member',
  'Query.jobs': 'member',
  // Whose job it is, is asked in the use case.
  'Mutation.cancelJob': 'member',
  'Mutation.retryJob': 'member',
};
