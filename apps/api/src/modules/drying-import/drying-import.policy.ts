import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

const bench = ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] as const;

export const dryingImportPolicies: Policies = {
  'Query.dryingImportMappings': 'member',
  'Mutation.previewDryingImport': bench,
  'Mutation.importDryingSeries': bench,
};

export const dryingImportTokenScopes: TokenScopes = {
  'Query.dryingImportMappings': ['BENCH'],
  'Mutation.previewDryingImport': ['BENCH'],
  'Mutation.importDryingSeries': ['BENCH'],
};
