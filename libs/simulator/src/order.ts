import type { LabEvent } from './events.js';

/** Events by moment; equal moments keep the order in which they were made. */
export function inOrder(events: readonly LabEvent[]): LabEvent[] {
  return [...events].sort((a, b) => Date.parse(a.at) - Date.parse(b.at));
}
