import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const labPolicies: Policies = {
  'Query.me': 'anybody',
  'Query.people': 'member',
  'Query.about': 'anybody',
  'Mutation.signIn': 'anybody',
  'Mutation.signOut': 'anybody',
  'Mutation.enterLab': 'member',
  'Mutation.addMember': ['ADMINISTRATOR'],
  'Mutation.changePassword': 'member',
  'Subscription.recorded': 'member',
};

export const labTokenScopes: TokenScopes = {
  'Query.people': ['READ'],
  'Query.about': ['READ', 'LISTEN', 'BENCH', 'DEVICE', 'FIELD', 'CALIBRATION'],
  'Subscription.recorded': ['READ', 'BENCH', 'DEVICE', 'FIELD'],
};
