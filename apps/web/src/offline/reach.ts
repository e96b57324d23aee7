import { useSyncExternalStore } from 'react';
import { momentNow } from '../ui/time.js';

/** Since when the server gives no answer; null while it answers. Every request tells. */
let lostSince: string | null = null;
const listeners = new Set<() => void>();

function become(since: string | null): void {
  if ((lostSince === null) === (since === null)) return;
  lostSince = since;
  for (const listener of [...listeners]) listener();
}

export const answerCame = (): void => become(null);
export const noAnswerCame = (): void => become(momentNow());
export const isLost = (): boolean => lostSince !== null;

export function onReach(listener: () => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

export const useLostSince = (): string | null => useSyncExternalStore(onReach, () => lostSince);

/** Service workers, which can open a page without the server, exist only at addresses that the browser calls secure. */
export const opensWithoutServer = (): boolean => typeof navigator !== 'undefined' && 'serviceWorker' in navigator && navigator.serviceWorker.controller !== null;
