import type { CheckStatus, OutOfCheck } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { ProblemError } from '../../platform/errors/problem.js';
import { Instrument } from './instrument.entity.js';
import { standingsAt } from './instrument.repository.js';

export interface UseOfInstrument {
  readonly instrumentId: string;
  /** By the server's clock. */
  readonly at: Date;
  /** What the protocol says; null where none is named: nothing is asked then, the status is told all the same. */
  readonly rule: OutOfCheck | null;
  readonly overrideReason: string | null;
  /** Field of the input that names the instrument. */
  readonly field: string;
}

/** How an instrument stands that is not in check: the predicate of a sentence. */
export const standsAs: Readonly<Record<CheckStatus, string>> = {
  IN_CHECK: 'is in check', OVERDUE: 'is overdue for its check or calibration', FAILED: 'failed its last check', UNCHECKED: 'was never checked',
};

/**
 * Lets an instrument be used by the protocol's rule.
 *
 * @throws ProblemError `INSTRUMENT`: at the instrument where the protocol does not take it, at `overrideReason` where a reason is wanted
 */
export async function requireInCheck(tx: Tx, { instrumentId, at, rule, overrideReason, field }: UseOfInstrument): Promise<void> {
  if (rule === null || (rule === 'ASK' && overrideReason !== null)) return;
  const [standing] = await standingsAt(tx, [{ instrumentId, at }]);
  if (!standing || standing.status === 'IN_CHECK') return;
  const label = (await rowById(tx, Instrument, instrumentId))?.label ?? 'This instrument';
  if (rule === 'REFUSE') throw new ProblemError('INSTRUMENT', field, `${label} ${standsAs[standing.status]}.`, 'The protocol takes no value of it then: check it, or use another.');
  throw new ProblemError('INSTRUMENT', 'overrideReason', `${label} ${standsAs[standing.status]}.`, 'Check it, or give the reason for using it all the same.');
}
