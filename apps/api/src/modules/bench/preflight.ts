import type { CheckStatus, PreflightPoint } from '../../generated/schema.js';
import type { Parameters } from '../protocol/protocol-parameters.js';

/** What is known before the first reading of a run. */
export interface PreflightEvidence {
  readonly at: Date;
  /** Of the person at the bench: "today" is theirs. */
  readonly offsetMin: number;
  readonly balanceLabel: string;
  readonly balanceStatus: CheckStatus;
  readonly balanceCheckedAt: Date | null;
  readonly lampOnSince: Date | null;
  readonly hasDark: boolean;
  readonly hasReference: boolean;
  readonly clockOffsetMs: number | null;
}

export interface PointStanding {
  readonly point: PreflightPoint;
  readonly met: boolean;
  readonly told: string;
  readonly remedy: string | null;
  readonly skippable: boolean;
}

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

/** Each point of the pre-flight: whether it is met by the protocol's limits, and what to do where it is not. */
export function preflightStanding(evidence: PreflightEvidence, parameters: Parameters): PointStanding[] {
  return [balancePoint(evidence, parameters), lampPoint(evidence, parameters), takenPoint('DARK', evidence.hasDark), takenPoint('REFERENCE', evidence.hasReference), clockPoint(evidence, parameters)];
}

const standing = (point: PreflightPoint, met: boolean, told: string, remedy: string, skippable = true): PointStanding =>
  ({ point, met, told, remedy: met ? null : remedy, skippable });

function balancePoint({ at, offsetMin, balanceLabel, balanceStatus, balanceCheckedAt }: PreflightEvidence, { outOfCheck }: Parameters): PointStanding {
  const day = (moment: Date): number => Math.floor((moment.getTime() + offsetMin * MINUTE_MS) / DAY_MS);
  const today = balanceCheckedAt !== null && day(balanceCheckedAt) === day(at);
  const told = {
    IN_CHECK: today ? `${balanceLabel} was checked today and passed.` : `${balanceLabel} is in check, but was not checked today.`,
    OVERDUE: `${balanceLabel} is overdue for its check.`,
    FAILED: `${balanceLabel} failed its last check.`,
    UNCHECKED: `${balanceLabel} was never checked.`,
  }[balanceStatus];
  const inCheck = balanceStatus === 'IN_CHECK';
  return standing('BALANCE', inCheck && today, told, 'Put the check weight on it and record the check.', inCheck || outOfCheck === 'ASK');
}

function lampPoint({ at, lampOnSince }: PreflightEvidence, { lampWarmUpMin }: Parameters): PointStanding {
  if (lampOnSince === null) return standing('LAMP', false, 'Nobody has said since when the lamp burns.', 'Say when it was switched on.');
  const minutes = Math.floor((at.getTime() - lampOnSince.getTime()) / MINUTE_MS);
  // A moment just given may lie some seconds after the moment of the look.
  if (minutes < -1) return standing('LAMP', false, 'The lamp is said to be switched on later than now.', 'Look at the time you gave.');
  return standing('LAMP', minutes >= lampWarmUpMin, `The lamp has burnt for ${Math.max(0, minutes)} min; it needs ${lampWarmUpMin}.`, `Wait ${Math.ceil(lampWarmUpMin - Math.max(0, minutes))} min more: a lamp that warms drifts.`);
}

function takenPoint(point: 'DARK' | 'REFERENCE', taken: boolean): PointStanding {
  const what = point.toLowerCase();
  const how = point === 'DARK' ? 'Shut the light and read the meter.' : 'Put the diffuser in the beam and read the meter.';
  return standing(point, taken, taken ? `The run has a ${what}.` : `No ${what} was taken yet.`, how);
}

function clockPoint({ clockOffsetMs }: PreflightEvidence, { clockOffsetMostS }: Parameters): PointStanding {
  if (clockOffsetMs === null) return standing('CLOCK', false, 'The clock of this device was not compared with the server’s.', 'Wait until the server answers.');
  const seconds = Math.abs(clockOffsetMs) / 1000;
  const told = seconds < 0.5 ? 'This device’s clock agrees with the server’s.' : `This device’s clock is ${seconds.toFixed(1)} s ${clockOffsetMs > 0 ? 'behind' : 'ahead of'} the server’s.`;
  return standing('CLOCK', seconds <= clockOffsetMostS, told, `Let the device set its clock by the network, then look again. Up to ${clockOffsetMostS} s is allowed; what was measured is kept and taken off.`);
}
