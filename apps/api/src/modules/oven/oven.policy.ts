import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

const bench = ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] as const;

export const ovenPolicies: Policies = {
  'Query.ovenCycles': 'member',
  'Query.ovenCycle': 'member',
  'Query.constantMassRules': 'member',
  'Mutation.startOvenCycle': bench,
  'Mutation.unloadOvenCycle': bench,
  'Mutation.recordOvenTemperature': bench,
  'Mutation.recordOvenCooling': bench,
};

export const ovenTokenScopes: TokenScopes = {
  'Query.ovenCycles': ['READ', 'BENCH'],
  'Query.constantMassRules': ['READ', 'BENCH'],
  'Mutation.recordOvenTemperature': ['BENCH'],
  'Mutation.recordOvenCooling': ['BENCH'],
  'Query.ovenCycle': ['READ', 'BENCH'],
  'Mutation.startOvenCycle': ['BENCH'],
  'Mutation.unloadOvenCycle': ['BENCH'],
};
