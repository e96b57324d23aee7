import type { Role } from '../../generated/schema.js';
import type { Policies } from '../../platform/identity/policy.js';

export const storedFilePolicies: Policies = { 'Query.storedFile': 'member' };

/** Roles that may send a file; every member may fetch one. */
export const MAY_STORE: readonly Role[] = ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER', 'ADMINISTRATOR'];
