import type { Policies } from '../../platform/identity/policy.js';

const bench = ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] as const;

export const samplePolicies: Policies = {
  'Query.crops': 'member',
  'Query.plants': 'member',
  'Query.leaf': 'member',
  'Query.discs': 'member',
  'Query.disc': 'member',
  'Query.discByLabel': 'member',
  'Mutation.recordCrop': ['RESEARCHER', 'MANAGER'],
  'Mutation.recordPlant': bench,
  'Mutation.recordLeaf': bench,
  'Mutation.recordDisc': bench,
};
