import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const calibrationScopePolicies: Policies = {
  'Mutation.recordCalibrationScope': ['RESEARCHER', 'MANAGER'],
};

export const calibrationScopeTokenScopes: TokenScopes = { 'Mutation.recordCalibrationScope': ['CALIBRATION'] };
