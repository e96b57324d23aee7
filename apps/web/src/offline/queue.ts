import { useSyncExternalStore } from 'react';
import { allKept } from './store.js';
import type { Kept } from './store.js';

/** What this browser keeps, told to all of its tabs: each change in one is looked at by the others. */
let known: readonly Kept[] = [];
const listeners = new Set<() => void>();
const channel = typeof BroadcastChannel === 'undefined' ? null : new BroadcastChannel('threadleaf-outbox');
channel?.addEventListener('message', () => void look());

/** Reads the queue from the disk. */
export async function look(): Promise<readonly Kept[]> {
  // A browser that keeps nothing (private window, full disk) has an empty queue.
  const kept = await allKept().catch(() => []);
  if (kept.length === 0 && known.length === 0) return known;
  known = kept;
  for (const listener of listeners) listener();
  return known;
}

/** Lets the other tabs look. */
export const tellTabs = (): void => channel?.postMessage(null);

/** After this tab changed the queue. */
export async function changed(): Promise<void> {
  tellTabs();
  await look();
}

const subscribe = (listener: () => void): (() => void) => {
  if (listeners.size === 0) void look();
  listeners.add(listener);
  return () => listeners.delete(listener);
};

/** All that this browser keeps, of every person and lab, in the order of capture. */
export const useQueue = (): readonly Kept[] => useSyncExternalStore(subscribe, () => known);
