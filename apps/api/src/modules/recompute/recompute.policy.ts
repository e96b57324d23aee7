import type { Policies } from '../../platform/identity/policy.js';

export const recomputePolicies: Policies = { 'Query.recompute': 'member' };
