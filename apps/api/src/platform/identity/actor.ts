import type { Role } from '../../generated/schema.js';

/** Who acts, in which lab, with which roles: the first argument of every use case. */
export interface Actor {
  readonly accountId: string;
  readonly displayName: string;
  readonly labId: string;
  readonly roles: readonly Role[];
}
