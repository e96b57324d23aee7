import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { CalibrationAdoption, CalibrationShare, ShareGrant, ShareGrantWithdrawal } from './share.entity.js';
import type { SharedRow, Standing } from './share.repository.js';
import type { Statement } from './statement.js';

/** As the contract tells it: the fit's figures beside the rest. What a line needs to speak without its readings stays inside. */
export function toStatement({ fit, frozen: _frozen, state: _state, ...rest }: Statement, calibrationVersionId: string): object {
  return {
    ...rest,
    ...fit,
    refitOf: rest.refitOf ?? null,
    credits: rest.credits ?? [],
    calibrationVersionId,
    fittedAt: formatMoment(new Date(rest.fittedAt)),
    scope: rest.scope && { ...rest.scope, validUntil: rest.scope.validUntil && formatMoment(new Date(rest.scope.validUntil)) },
    signatures: rest.signatures.map((signature) => ({ ...signature, at: formatMoment(new Date(signature.at)) })),
  };
}

export type ShareView = RecordView & Pick<CalibrationShare, 'calibrationVersionId' | 'depth' | 'permits' | 'licence' | 'citation'> & { readonly statement: object };

export const toShare = (row: CalibrationShare): ShareView => ({
  ...recordView(row),
  calibrationVersionId: row.calibrationVersionId,
  depth: row.depth,
  permits: row.permits,
  licence: row.licence,
  citation: row.citation,
  statement: toStatement(row.document, row.calibrationVersionId),
});

export type GrantView = RecordView & Pick<ShareGrant, 'audience' | 'labIds'> & { readonly until: string | null; readonly endsAt: Date | null };

export const toGrant = (row: ShareGrant): GrantView => ({
  ...recordView(row), audience: row.audience, labIds: row.labIds, until: row.until && formatMoment(row.until), endsAt: row.until,
});

export const toWithdrawal = (row: ShareGrantWithdrawal): RecordView & { reason: string } => ({ ...recordView(row), reason: row.reason });

export const toStanding = ({ state, stale, since, reason }: Standing): object => ({ state, stale, since: formatMoment(since), reason });

export interface SharedView {
  readonly id: string;
}

export const toShared = (row: SharedRow, standing: Standing | undefined): SharedView & Record<string, unknown> => ({
  id: row.id,
  sharedAt: formatMoment(row.recordedAt),
  until: row.until && formatMoment(row.until),
  giver: { id: row.labId, name: row.giverName },
  depth: row.depth,
  permits: row.permits,
  licence: row.licence,
  citation: row.citation,
  statement: toStatement(row.document, row.calibrationVersionId),
  standing: standing ? toStanding(standing) : { state: row.document.state, stale: false, since: formatMoment(row.recordedAt), reason: null },
});

export type OriginView = RecordView & { readonly shareId: string; readonly originLabId: string; readonly storedFileId: string };

export const toOrigin = (row: CalibrationAdoption): OriginView & Record<string, unknown> => ({
  ...recordView(row),
  source: row.source,
  shareId: row.shareId,
  originLabId: row.originLabId,
  storedFileId: row.storedFileId,
  labName: row.originLab,
  ledger: row.originLedger,
  keys: row.originKeys,
  versionId: row.originVersionId,
  versionContentHash: row.originContentHash,
  checkpoint: row.checkpoint,
  depth: row.depth,
  licence: row.licence,
  citation: row.citation,
  keyComparedWith: row.keyComparedWith,
  statement: toStatement(row.document, row.originVersionId),
  reason: row.reason,
});
