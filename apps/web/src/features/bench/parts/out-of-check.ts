import type { CheckStatus } from '../../../generated/graphql.js';
import { serverNowMs } from '../../../offline/clock.js';
import { statusAt, type Checked } from '../../../ui/out-of-check.js';
import { useNow } from '../../../ui/time.js';
import type { Run } from './run.js';

const keyOf = (run: Run, instrumentId: string): string => `threadleaf.override.${run.id}.${instrumentId}`;

/** Said once in a run, a reason is offered again for its next values; the pre-flight may have it already. */
export function rememberedReason(run: Run, instrumentId: string): string {
  const skipped = instrumentId === run.balance.id ? run.preflights.flatMap((each) => each.skipped).findLast(({ point }) => point === 'BALANCE')?.reason : undefined;
  return sessionStorage.getItem(keyOf(run, instrumentId)) ?? skipped ?? '';
}

export const rememberReason = (run: Run, instrumentId: string, reason: string): void => sessionStorage.setItem(keyOf(run, instrumentId), reason);

/** How an instrument stands now for the run's protocol; in check where the run names none, for then nothing is asked. */
export function useStandingNow(run: Run, instrument: Checked): CheckStatus {
  useNow(15);
  return run.protocol ? statusAt(instrument, serverNowMs()) : 'IN_CHECK';
}
