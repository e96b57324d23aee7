import type { Policies } from '../../platform/identity/policy.js';

const hands = ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'] as const;

export const placePolicies: Policies = {
  'Query.places': 'member',
  'Query.place': 'member',
  'Query.custodies': 'member',
  'Mutation.recordPlace': hands,
  'Mutation.recordCustody': hands,
};
