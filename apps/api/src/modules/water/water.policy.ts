import type { Policies } from '../../platform/identity/policy.js';

export const waterPolicies: Policies = {
  'Query.rwcSeries': 'member',
  'Mutation.computeRwcSeries': ['TECHNICIAN', 'RESEARCHER', 'MANAGER'],
};
