import type { Policies } from '../../platform/identity/policy.js';

const bench = ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] as const;

export const benchPolicies: Policies = {
  'Query.dryingRuns': 'member',
  'Query.dryingRun': 'member',
  'Query.weighing': 'member',
  'Query.weighWouldBe': bench,
  'Mutation.openDryingRun': bench,
  'Mutation.closeDryingRun': bench,
  'Mutation.releaseDryingRun': ['RESEARCHER', 'MANAGER'],
  'Mutation.recordWeighing': bench,
  'Mutation.recordMeterReading': bench,
  'Mutation.amendWeighing': bench,
  'Mutation.amendMeterReading': bench,
};
