import type { Policies } from '../../platform/identity/policy.js';

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
