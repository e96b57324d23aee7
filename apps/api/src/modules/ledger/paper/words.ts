import type { ThreadNodeView } from '../../thread/thread.service.js';
import type { PaperMaterial } from './material.js';

/** "2026-06-03 09:05:00 +02:00": as the clock there showed it; seconds only where they say something. */
export function momentText(moment: string | Date): string {
  const text = moment instanceof Date ? moment.toISOString() : moment;
  const [, day, clock, seconds, zone] = /^(\d{4}-\d\d-\d\d)T(\d\d:\d\d)(:\d\d)(?:\.\d+)?(Z|[+-]\d\d:\d\d)$/.exec(text) ?? [];
  return day ? `${day} ${clock}${seconds === ':00' ? '' : seconds} ${zone === 'Z' ? 'UTC' : zone}` : text;
}

export const when = ({ observedAt, recordedAt }: ThreadNodeView): string => momentText(observedAt ?? recordedAt);

export const who = (material: PaperMaterial, personId: string): string => material.people.get(personId) ?? personId;

export const kindText = (kind: string): string => kind.replaceAll('_', ' ');

export const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

const standings = { IN_CHECK: 'in check then', OVERDUE: 'overdue for its check then', FAILED: 'had failed its check', UNCHECKED: 'unchecked then' } as const;

/** "Balance 1, in check then"; an instrument's own record uses none. */
export const instrumentText = ({ kind, instrument, instrumentStatusThen, observedAt }: ThreadNodeView): string => {
  if (!instrument || kind === 'instrument') return '';
  return instrumentStatusThen && observedAt ? `${instrument}, ${standings[instrumentStatusThen]}` : instrument;
};

export const percentText = (fraction: number, digits = 1): string => `${(100 * fraction).toFixed(digits)} %`;

/** Four digits: what a reader looks at; the record has all of them. */
export const numberText = (value: number): string => String(Number(value.toPrecision(4))).replace('-', '−');
