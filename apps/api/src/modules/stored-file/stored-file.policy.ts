import type { Role } from '../../generated/schema.js';
import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const storedFilePolicies: Policies = { 'Query.storedFile': 'member' };

export const storedFileTokenScopes: TokenScopes = {
  'Query.storedFile': ['READ', 'BENCH', 'DEVICE', 'FIELD', 'CALIBRATION'],
  'GET /files': ['READ', 'BENCH', 'DEVICE', 'FIELD'],
  'POST /files': ['BENCH', 'DEVICE', 'FIELD', 'CALIBRATION'],
};

/** Roles that may send a file; every member may fetch one. */
export const MAY_STORE: readonly Role[] = ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER', 'ADMINISTRATOR'];
