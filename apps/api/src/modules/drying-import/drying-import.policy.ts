import type { Policies } from '../../platform/identity/policy.js';

const bench = ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] as const;

export const dryingImportPolicies: Policies = {
  'Query.dryingImportMappings': 'member',
  'Mutation.previewDryingImport': bench,
  'Mutation.importDryingSeries': bench,
};
