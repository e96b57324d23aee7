import type { Policies } from '../../platform/identity/policy.js';

export const protocolPolicies: Policies = {
  'Query.protocols': 'member',
  'Query.protocol': 'member',
  'Query.houseParameters': 'member',
  'Mutation.recordProtocol': ['RESEARCHER', 'MANAGER'],
};
