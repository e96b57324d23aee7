import { RESULT_KINDS } from '../amendment/amendment.repository.js';
import type { LedgerException } from '../../generated/schema.js';
import type { Describer } from './describer.js';

/** In the order in which an auditor reads them. What each means stands in ledger.graphql. */
export const EXCEPTIONS: readonly LedgerException[] = [
  'AMENDED', 'STALE', 'ANSWERED', 'INSTRUMENT', 'SAME_HAND', 'CLOCK', 'LATE', 'TYPED', 'IMPORTED', 'SIMULATED',
];

/** Observed so long before it was recorded, unless the reader says otherwise. */
export const LATE_AFTER_MIN = 60;

/** The server's and a device's clock may differ by this much unseen: network time keeps well below it. */
const CLOCK_TOLERANCE = "interval '5 seconds'";

/**
 * When each exception holds for a row `r` of a kind, as SQL: lab $1, minutes after which an entry is late $2. Where an
 * instrument was used, `standing` is its row of `in_check`. An exception that a kind cannot have is left out.
 */
export function exceptionsOf(kind: string, { observedAt, entryMode, answers = [], instrumentId }: Describer): ReadonlyMap<LedgerException, string> {
  const found = new Map<LedgerException, string>();
  found.set('AMENDED', 'EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = r.id)');
  if ((RESULT_KINDS as readonly string[]).includes(kind)) found.set('STALE', 'EXISTS (SELECT FROM stale_mark m WHERE m.lab_id = $1 AND m.result_id = r.id)');
  if (answers.length > 0) found.set('ANSWERED', answers.map(({ column }) => `r.${column} IS NOT NULL`).join(' OR '));
  if (usedThen({ observedAt, instrumentId })) found.set('INSTRUMENT', `(${instrumentId}) IS NOT NULL AND NOT coalesce(standing.spans @> (${observedAt}), false)`);
  if (kind === 'signature') found.set('SAME_HAND', SAME_HAND);
  found.set('CLOCK', `uuid_clock(r.id) > r.recorded_at + ${CLOCK_TOLERANCE}${observedAt ? ` OR (${observedAt}) > r.recorded_at + ${CLOCK_TOLERANCE}` : ''}`);
  if (observedAt) found.set('LATE', `${entryMode ? `${entryMode} NOT IN ('IMPORTED', 'SIMULATED') AND ` : ''}r.recorded_at - (${observedAt}) > make_interval(mins => $2)`);
  if (entryMode) for (const mode of ['TYPED', 'IMPORTED', 'SIMULATED'] as const) found.set(mode, `${entryMode} = '${mode}'`);
  return found;
}

/** True where a record tells an instrument and the moment of its use; an instrument's own record uses none. */
export const usedThen = ({ observedAt, instrumentId }: Pick<Describer, 'observedAt' | 'instrumentId'>): boolean => Boolean(observedAt && instrumentId);

/** Reviewed or approved by who made it, or two of the signatures by one person. The service refuses both. */
const SAME_HAND = `r.meaning <> 'WITHDRAWN' AND (
    EXISTS (SELECT FROM signature other WHERE other.lab_id = $1 AND other.subject_id = r.subject_id AND other.recorded_by = r.recorded_by
      AND other.meaning NOT IN (r.meaning, 'WITHDRAWN'))
    OR r.meaning <> 'AUTHORED' AND EXISTS (SELECT FROM ledger_entry made WHERE made.lab_id = $1 AND made.subject_id = r.subject_id AND made.recorded_by = r.recorded_by))`;
