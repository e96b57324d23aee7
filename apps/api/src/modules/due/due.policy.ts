import type { Policies } from '../../platform/identity/policy.js';

export const duePolicies: Policies = { 'Query.due': 'member' };
