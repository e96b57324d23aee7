import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const duePolicies: Policies = {
  'Query.due': 'member',
  'Query.calendarFeedMadeAt': 'member',
  'Mutation.renewCalendarFeed': 'member',
  'Mutation.endCalendarFeed': 'member',
};

export const dueTokenScopes: TokenScopes = {
  'Query.due': ['READ', 'BENCH', 'FIELD'],
};
