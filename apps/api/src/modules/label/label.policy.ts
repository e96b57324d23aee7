import type { Policies } from '../../platform/identity/policy.js';

export const labelPolicies: Policies = {
  'Query.scan': 'member',
  'Query.labelPrints': 'member',
  'Query.labelPrint': 'member',
  'Query.labelPrintCounts': 'member',
  'Mutation.printLabels': ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'],
};
