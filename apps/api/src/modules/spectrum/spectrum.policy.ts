import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const spectrumPolicies: Policies = {
  'Query.spectra': 'member',
  'Query.spectrum': 'member',
  'Query.bandWeighting': 'member',
  'Mutation.recordSpectrum': ['RESEARCHER', 'MANAGER', 'TECHNICIAN', 'FIELD_ENGINEER'],
};

export const spectrumTokenScopes: TokenScopes = {
  'Query.spectra': ['READ', 'CALIBRATION'],
  'Query.spectrum': ['READ', 'CALIBRATION'],
  'Query.bandWeighting': ['READ', 'CALIBRATION'],
  'Mutation.recordSpectrum': ['CALIBRATION'],
};
