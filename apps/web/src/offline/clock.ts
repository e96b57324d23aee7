import { useApolloClient } from '@apollo/client/react';
import { useCallback, useEffect, useSyncExternalStore } from 'react';
import { MeasureClock } from './documents.js';

/** How far this device's clock is behind the server's, as last measured. Half the round trip is the most it can be wrong by. */
export interface ClockOffset {
  readonly offsetMs: number;
  readonly roundTripMs: number;
}

export interface ClockSample {
  readonly askedMs: number;
  readonly serverMs: number;
  readonly answeredMs: number;
}

/** Of several samples the one that was on its way shortest: the others waited somewhere, and nobody knows on which way. */
export function offsetFrom(samples: readonly ClockSample[]): ClockOffset | null {
  const [best] = [...samples].sort((a, b) => a.answeredMs - a.askedMs - (b.answeredMs - b.askedMs));
  if (!best) return null;
  return { offsetMs: Math.round(best.serverMs - (best.askedMs + best.answeredMs) / 2), roundTripMs: Math.round(best.answeredMs - best.askedMs) };
}

let known: ClockOffset | null = null;
const listeners = new Set<() => void>();

/** For the writes of the bench; null while nothing was measured. */
export const clockOffsetMs = (): number | null => known?.offsetMs ?? null;

/** Now by the server's clock, as far as it is known. */
export const serverNowMs = (): number => Date.now() + (known?.offsetMs ?? 0);

/** A moment by the server's clock as this device's clock will show it: what counts down here runs on the device. */
export const onThisClock = (serverMs: number): number => serverMs - (known?.offsetMs ?? 0);

const SAMPLES = 5;
const AGAIN_MS = 5 * 60_000;

/** Compares this device's clock with the server's now, every few minutes, and when the page is looked at again. */
export function useClockOffset(): { readonly offset: ClockOffset | null; readonly measure: () => Promise<void> } {
  const client = useApolloClient();
  const offset = useSyncExternalStore(
    (listener) => {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    () => known,
  );
  const measure = useCallback(async () => {
    const samples: ClockSample[] = [];
    for (let i = 0; i < SAMPLES; i += 1) {
      const askedMs = Date.now();
      // Without an answer what was measured before still stands.
      const answer = await client.query({ query: MeasureClock, fetchPolicy: 'no-cache' }).catch(() => null);
      const serverTime = answer?.data?.about.serverTime;
      if (!serverTime) break;
      samples.push({ askedMs, serverMs: Date.parse(serverTime), answeredMs: Date.now() });
    }
    const measured = offsetFrom(samples);
    if (!measured) return;
    known = measured;
    for (const listener of listeners) listener();
  }, [client]);
  useEffect(() => {
    void measure();
    const looked = () => {
      if (document.visibilityState === 'visible') void measure();
    };
    const timer = setInterval(() => void measure(), AGAIN_MS);
    document.addEventListener('visibilitychange', looked);
    return () => {
      clearInterval(timer);
      document.removeEventListener('visibilitychange', looked);
    };
  }, [measure]);
  return { offset, measure };
}
