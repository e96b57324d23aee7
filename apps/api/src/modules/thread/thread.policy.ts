import type { Policies } from '../../platform/identity/policy.js';

export const threadPolicies: Policies = {
  'Query.thread': 'member',
  'Query.recordKind': 'member',
};
