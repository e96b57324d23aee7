import type { Policies } from '../../platform/identity/policy.js';

export const signaturePolicies: Policies = {
  'Mutation.sign': ['RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'],
};
