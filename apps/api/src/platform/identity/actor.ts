import type { Role, TokenScope } from '../../generated/schema.js';

/** The access token that somebody acts through, where no hand is signed in. */
export interface TokenInUse {
  readonly id: string;
  readonly label: string;
  readonly scopes: readonly TokenScope[];
  readonly expiresAt: Date;
}

/** Who acts, in which lab, with which roles: the first argument of every use case. */
export interface Actor {
  readonly accountId: string;
  /** "Wren Marlpit", or "Wren Marlpit through token bench computer". */
  readonly displayName: string;
  readonly labId: string;
  readonly roles: readonly Role[];
  /** Null for a signed-in hand. */
  readonly token: TokenInUse | null;
}
