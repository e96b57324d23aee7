import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const calibrationPolicies: Policies = {
  'Query.calibrations': 'member',
  'Query.calibration': 'member',
  'Query.calibrationVersion': 'member',
  'Query.calibrationCandidates': 'member',
  'Query.candidateChoices': 'member',
  'Query.calibrationStudy': 'member',
  'Mutation.recordCalibration': ['RESEARCHER', 'MANAGER'],
  'Mutation.compareCalibrations': ['RESEARCHER', 'MANAGER'],
  'Mutation.fitCalibration': ['RESEARCHER', 'MANAGER'],
};

export const calibrationTokenScopes: TokenScopes = {
  'Query.calibrations': ['READ', 'CALIBRATION'],
  'Query.calibration': ['READ', 'CALIBRATION'],
  'Query.calibrationVersion': ['READ', 'CALIBRATION'],
  'Query.calibrationCandidates': ['READ', 'CALIBRATION'],
  'Query.calibrationStudy': ['READ', 'CALIBRATION'],
  'Query.candidateChoices': ['READ', 'CALIBRATION'],
  'Mutation.recordCalibration': ['CALIBRATION'],
  'Mutation.fitCalibration': ['CALIBRATION'],
  'Mutation.compareCalibrations': ['CALIBRATION'],
};
