import { Line, Lines } from '../../../ui/page.js';
import { Moment } from '../../../ui/time.js';
import type { Run } from './run.js';

const words = { BALANCE: 'balance', LAMP: 'lamp', DARK: 'dark', REFERENCE: 'reference', CLOCK: 'clock' } as const;
const statuses = { IN_CHECK: 'in check', OVERDUE: 'overdue', FAILED: 'failed its check', UNCHECKED: 'never checked' } as const;

const clockText = (offsetMs: number | null | undefined): string =>
  offsetMs === null || offsetMs === undefined ? 'clock not compared' : `clock ${Math.abs(offsetMs)} ms ${offsetMs < 0 ? 'ahead' : 'behind'}`;

/** What was looked at before the first reading, and what was skipped. */
export function PreflightTold({ run }: { readonly run: Run }) {
  return (
    <Lines label="Pre-flights of the run">
      {run.preflights.map(({ id, observedAt, recordedBy, balanceStatus, lampOnSince, clockOffsetMs, skipped }) => (
        <Line key={id} margin={<Moment at={observedAt} />}>
          <span>{run.balance.label} {statuses[balanceStatus]}, lamp {lampOnSince ? <>on since <Moment at={lampOnSince} /></> : 'not known'}, {clockText(clockOffsetMs)}; {recordedBy.displayName}</span>
          {skipped.map(({ point, reason }) => <span key={point}>Skipped, {words[point]}: “{reason}”</span>)}
        </Line>
      ))}
    </Lines>
  );
}
