import type { Policies } from '../../platform/identity/policy.js';

export const instrumentPolicies: Policies = {
  'Query.instruments': 'member',
  'Query.instrument': 'member',
  'Query.rigs': 'member',
  'Mutation.registerInstrument': ['MANAGER'],
  'Mutation.recordInstrumentCheck': ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'],
  'Mutation.registerRig': ['RESEARCHER', 'MANAGER'],
};
