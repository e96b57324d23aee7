import { Link } from 'react-router';
import type { CheckStatus, OutOfCheck } from '../generated/graphql.js';
import type { FieldBinding } from './entry.js';
import { TextField } from './fields.js';
import { Notice } from './words.js';

export interface Checked {
  readonly id: string;
  readonly label: string;
  readonly checkStatus: CheckStatus;
  readonly checkDueAt?: string | null;
}

/** As it stands at a moment by the server's clock: by its due date, which holds without a network too. A failed or missing check has none. */
export function statusAt({ checkStatus, checkDueAt }: Checked, serverMs: number): CheckStatus {
  if (!checkDueAt || (checkStatus !== 'IN_CHECK' && checkStatus !== 'OVERDUE')) return checkStatus;
  return Date.parse(checkDueAt) < serverMs ? 'OVERDUE' : 'IN_CHECK';
}

const stands: Readonly<Record<CheckStatus, string>> = {
  IN_CHECK: 'is in check', OVERDUE: 'is overdue for its check or calibration', FAILED: 'failed its last check', UNCHECKED: 'was never checked',
};

interface OutOfCheckFieldProps {
  readonly instrument: Checked;
  readonly status: CheckStatus;
  readonly rule: OutOfCheck;
  readonly binding: FieldBinding<string>;
}

/** An instrument that is not in check: the protocol does not take it, or asks why it is used all the same. Nothing where it is in check. */
export function OutOfCheckField({ instrument, status, rule, binding }: OutOfCheckFieldProps) {
  if (status === 'IN_CHECK') return null;
  const check = <Link to={`/instruments/${instrument.id}`}>Record a check of {instrument.label}</Link>;
  if (rule === 'REFUSE') return <Notice tone="alarm" title={`${instrument.label} ${stands[status]}.`}>The protocol takes no value of it. {check}, or use another.</Notice>;
  return (
    <>
      <Notice tone="ask" title={`${instrument.label} ${stands[status]}.`}>{check}, or say why it is used all the same. <Link to={`/instruments/${instrument.id}/fault`}>What it touched</Link></Notice>
      <TextField {...binding} label={`Why ${instrument.label} is used all the same`} hint="Kept with each value, and shown in its Thread" wide />
    </>
  );
}
