import type { Policies } from '../../platform/identity/policy.js';

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
