import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const labelPolicies: Policies = {
  'Query.scan': 'member',
  'Query.labelPrints': 'member',
  'Query.labelPrint': 'member',
  'Query.labelPrintCounts': 'member',
  'Mutation.printLabels': ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'],
};

export const labelTokenScopes: TokenScopes = {
  'Query.scan': ['READ', 'BENCH', 'FIELD'],
  'Query.labelPrints': ['READ', 'BENCH'],
  'Query.labelPrint': ['READ', 'BENCH'],
  'Query.labelPrintCounts': ['READ', 'BENCH'],
  'Mutation.printLabels': ['BENCH'],
  'GET /labels': ['READ', 'BENCH'],
};
