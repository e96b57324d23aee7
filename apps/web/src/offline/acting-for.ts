/** A person in a lab: whose hand a write is of, and whose reads a device keeps. */
export interface Account {
  readonly personId: string;
  readonly labId: string;
}

/** The header by which a page says for whom it acts: a session that has meanwhile become another's is refused by the server. */
export const ACTING_FOR = 'x-threadleaf-acting-for';

export const actingText = ({ personId, labId }: Account): string => `${personId} ${labId}`;

/** For the context of an operation that acts for this account and no other. */
export const actingFor = (account: Account): { readonly headers: Readonly<Record<string, string>> } => ({ headers: { [ACTING_FOR]: actingText(account) } });

export const sameAccount = (a: Account | null, b: Account | null): boolean => a?.personId === b?.personId && a?.labId === b?.labId;
