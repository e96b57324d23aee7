import type { Policies } from '../../platform/identity/policy.js';

export const secondFactorPolicies: Policies = {
  'Mutation.startSecondFactor': 'member',
  'Mutation.confirmSecondFactor': 'member',
  'Mutation.removeSecondFactor': 'member',
};
