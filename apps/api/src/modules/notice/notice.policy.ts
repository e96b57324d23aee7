import type { Policies } from '../../platform/identity/policy.js';

export const noticePolicies: Policies = {
  'Query.notices': 'member',
  'Mutation.markNoticeSeen': 'member',
};
