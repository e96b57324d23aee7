import { formatMoment } from '../../platform/graphql/moment.js';
import type { JobRow } from '../../platform/jobs/job.repository.js';

/** A job as the contract shows it; person and record are resolved by their ids. */
export function toJob(row: JobRow): object {
  const { payload: _payload, resultKind, resultId, startedBy, queuedAt, beganAt, endedAt, ...same } = row;
  return {
    ...same,
    startedById: startedBy,
    resultRef: resultKind && resultId ? { kind: resultKind, id: resultId } : null,
    queuedAt: formatMoment(queuedAt),
    beganAt: beganAt && formatMoment(beganAt),
    endedAt: endedAt && formatMoment(endedAt),
  };
}
