import type { Policies } from '../../platform/identity/policy.js';

const bench = ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] as const;

export const ovenPolicies: Policies = {
  'Query.ovenCycles': 'member',
  'Query.ovenCycle': 'member',
  'Mutation.startOvenCycle': bench,
  'Mutation.unloadOvenCycle': bench,
};
