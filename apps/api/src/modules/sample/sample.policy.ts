import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

const bench = ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] as const;

export const samplePolicies: Policies = {
  'Query.crops': 'member',
  'Query.plants': 'member',
  'Query.plant': 'member',
  'Query.leaf': 'member',
  'Query.discs': 'member',
  'Query.disc': 'member',
  'Query.discByLabel': 'member',
  'Query.sampleWords': 'member',
  'Query.previewSamples': bench,
  'Mutation.recordCrop': ['RESEARCHER', 'MANAGER'],
  'Mutation.recordPlant': bench,
  'Mutation.recordLeaf': bench,
  'Mutation.recordDisc': bench,
  'Mutation.recordSamples': bench,
  'Mutation.amendSample': bench,
  'Mutation.recordSampleLoss': bench,
};

export const sampleTokenScopes: TokenScopes = {
  'Query.crops': ['READ', 'BENCH', 'CALIBRATION'],
  'Query.plants': ['READ', 'BENCH'],
  'Query.plant': ['READ', 'BENCH'],
  'Query.sampleWords': ['READ', 'BENCH'],
  'Query.previewSamples': ['BENCH'],
  'Query.leaf': ['READ', 'BENCH'],
  'Query.discs': ['READ', 'BENCH'],
  'Query.disc': ['READ', 'BENCH'],
  'Query.discByLabel': ['READ', 'BENCH'],
  'Mutation.recordPlant': ['BENCH'],
  'Mutation.recordLeaf': ['BENCH'],
  'Mutation.recordDisc': ['BENCH'],
  'Mutation.recordSamples': ['BENCH'],
  'Mutation.amendSample': ['BENCH'],
  'Mutation.recordSampleLoss': ['BENCH'],
};
