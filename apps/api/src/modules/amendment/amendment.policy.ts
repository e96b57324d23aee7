import type { Policies } from '../../platform/identity/policy.js';

export const amendmentPolicies: Policies = {
  'Mutation.retract': ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'],
};
