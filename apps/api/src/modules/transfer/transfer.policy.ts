import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const transferPolicies: Policies = {
  'Query.transferStudies': 'member',
  'Query.transferStudy': 'member',
  'Query.acrossCrops': 'member',
  'Mutation.studyTransfer': ['RESEARCHER', 'MANAGER'],
  'Mutation.studyWaterThickness': ['RESEARCHER', 'MANAGER'],
  'Mutation.adjustCalibration': ['RESEARCHER', 'MANAGER'],
};

export const transferTokenScopes: TokenScopes = {
  'Query.transferStudies': ['READ', 'CALIBRATION'],
  'Query.transferStudy': ['READ', 'CALIBRATION'],
  'Query.acrossCrops': ['READ', 'CALIBRATION'],
  'Mutation.studyTransfer': ['CALIBRATION'],
  'Mutation.studyWaterThickness': ['CALIBRATION'],
  'Mutation.adjustCalibration': ['CALIBRATION'],
};
