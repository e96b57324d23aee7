import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { TokenScope } from '../../generated/schema.js';
import type { TokenTold } from './token.service.js';

/** Everything but the hash of the secret, which nobody needs to see. */
export type AccessTokenView = RecordView & {
  readonly label: string;
  readonly scopes: readonly TokenScope[];
  readonly expiresAt: string;
  readonly revokedAt: string | null;
  readonly revokedById: string | null;
  readonly stands: boolean;
};

export const toAccessToken = ({ token, revocation }: TokenTold, now: Date): AccessTokenView => ({
  ...recordView(token),
  label: token.label,
  scopes: token.scopes,
  expiresAt: formatMoment(token.expiresAt),
  revokedAt: revocation && formatMoment(revocation.recordedAt),
  revokedById: revocation && revocation.recordedBy,
  stands: revocation === null && token.expiresAt > now,
});
