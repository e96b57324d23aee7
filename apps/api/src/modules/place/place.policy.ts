import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

const hands = ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'] as const;

export const placePolicies: Policies = {
  'Query.places': 'member',
  'Query.place': 'member',
  'Query.custodies': 'member',
  'Mutation.recordPlace': hands,
  'Mutation.recordCustody': hands,
};

export const placeTokenScopes: TokenScopes = {
  'Query.places': ['READ', 'BENCH', 'FIELD'],
  'Query.place': ['READ', 'BENCH', 'FIELD'],
  'Query.custodies': ['READ', 'BENCH', 'FIELD'],
  'Mutation.recordCustody': ['BENCH', 'FIELD'],
};
