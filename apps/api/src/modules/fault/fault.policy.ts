import type { Policies } from '../../platform/identity/policy.js';

export const faultPolicies: Policies = { 'Query.touchedBy': 'member', 'Query.faultMoves': 'member' };
