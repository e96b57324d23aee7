import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const instrumentPolicies: Policies = {
  'Query.instruments': 'member',
  'Query.instrument': 'member',
  'Query.rigs': 'member',
  'Query.rig': 'member',
  'Mutation.registerInstrument': ['MANAGER'],
  'Mutation.recordInstrumentCheck': ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'],
  'Mutation.recordInstrumentCalibration': ['MANAGER'],
  'Mutation.registerRig': ['RESEARCHER', 'MANAGER'],
};

export const instrumentTokenScopes: TokenScopes = {
  'Query.instruments': ['READ', 'LISTEN', 'BENCH'],
  'Query.instrument': ['READ', 'LISTEN', 'BENCH'],
  'Query.rigs': ['READ', 'BENCH', 'CALIBRATION'],
  'Query.rig': ['READ', 'BENCH'],
  'Mutation.recordInstrumentCheck': ['BENCH'],
};
