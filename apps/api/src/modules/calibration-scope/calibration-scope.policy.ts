import type { Policies } from '../../platform/identity/policy.js';

export const calibrationScopePolicies: Policies = {
  'Mutation.recordCalibrationScope': ['RESEARCHER', 'MANAGER'],
};
