import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

const field = ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] as const;

export const fieldPolicies: Policies = {
  'Query.installations': 'member',
  'Query.installation': 'member',
  'Query.trips': 'member',
  'Query.trip': 'member',
  'Query.decisions': 'member',
  'Query.decision': 'member',
  'Mutation.recordInstallation': field,
  'Mutation.recordTrip': field,
  'Mutation.recordTrips': field,
  'Mutation.recordFieldReports': field,
  'Mutation.recordLatchReset': field,
  'Mutation.endInstallation': field,
  'Mutation.recordDecisionOutcome': field,
  'Mutation.recordFieldCheck': ['TECHNICIAN', ...field],
  'Mutation.recordDecision': field,
};

export const fieldTokenScopes: TokenScopes = {
  'Query.installations': ['READ', 'FIELD'],
  'Query.installation': ['READ', 'FIELD'],
  'Query.trips': ['READ', 'FIELD'],
  'Query.trip': ['READ', 'FIELD'],
  'Query.decisions': ['READ', 'FIELD'],
  'Query.decision': ['READ', 'FIELD'],
  'Mutation.recordTrip': ['FIELD'],
  'Mutation.recordTrips': ['FIELD'],
  'Mutation.recordFieldReports': ['FIELD'],
};
