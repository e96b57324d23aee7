import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

const bench = ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] as const;

export const benchPolicies: Policies = {
  'Query.dryingRuns': 'member',
  'Query.dryingRun': 'member',
  'Query.weighing': 'member',
  'Query.weighWouldBe': bench,
  'Query.preflightStanding': bench,
  'Mutation.recordPreflight': bench,
  'Mutation.openDryingRun': bench,
  'Mutation.closeDryingRun': bench,
  'Mutation.releaseDryingRun': ['RESEARCHER', 'MANAGER'],
  'Mutation.recordWeighing': bench,
  'Mutation.recordMeterReading': bench,
  'Mutation.amendWeighing': bench,
  'Mutation.amendMeterReading': bench,
};

export const benchTokenScopes: TokenScopes = {
  'Query.dryingRuns': ['READ', 'BENCH', 'CALIBRATION'],
  'Query.dryingRun': ['READ', 'BENCH', 'CALIBRATION'],
  'Query.weighing': ['READ', 'BENCH'],
  'Query.weighWouldBe': ['BENCH'],
  'Mutation.openDryingRun': ['BENCH'],
  'Mutation.closeDryingRun': ['BENCH'],
  'Mutation.recordWeighing': ['BENCH'],
  'Mutation.recordMeterReading': ['BENCH'],
};
