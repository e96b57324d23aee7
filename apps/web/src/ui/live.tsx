import { useSubscription } from '@apollo/client/react';
import { createContext, useCallback, useContext, useEffect, useMemo, useRef } from 'react';
import type { ReactNode } from 'react';
import type { TypedDocumentNode } from '@apollo/client';
import type { RecordedInLabSubscription } from '../generated/graphql.js';

export type RecordedEvent = RecordedInLabSubscription['recorded'];
/** Null: the connection was lost for a while, anything may have been recorded. */
type Listener = (event: RecordedEvent | null) => void;

const LiveContext = createContext<Set<Listener> | null>(null);

const reconnected = 'threadleaf:reconnected';

/** Tells every screen that it may have missed something. */
export const announceReconnection = (): boolean => window.dispatchEvent(new Event(reconnected));

interface LiveProviderProps {
  readonly subscription: TypedDocumentNode<RecordedInLabSubscription, Record<string, never>>;
  readonly children: ReactNode;
}

/** One subscription for the whole page tells every screen what was written in the lab. */
export function LiveProvider({ subscription, children }: LiveProviderProps) {
  const listeners = useMemo(() => new Set<Listener>(), []);
  const tell = useCallback((event: RecordedEvent | null) => {
    for (const listener of listeners) listener(event);
  }, [listeners]);
  useSubscription(subscription, {
    onData: ({ data }) => {
      if (data.data) tell(data.data.recorded);
    },
    // A lost socket only means that others' work shows later: the client tries again by itself.
    onError: () => undefined,
  });
  useEffect(() => {
    const missed = () => tell(null);
    window.addEventListener(reconnected, missed);
    return () => window.removeEventListener(reconnected, missed);
  }, [tell]);
  return <LiveContext value={listeners}>{children}</LiveContext>;
}

const soonMs = 250;
const atMostEveryMs = 1000;

/**
 * Fetches again a moment after something was recorded that `concerns` the screen (default: any record of the lab; a job's progress is none), at most
 * once a second: an import of ten thousand rows must not make ten thousand fetches. What it returns fetches at once, for
 * a screen that has recorded something itself: the news of it that has come by then asks for no second fetch.
 */
export function useLive(refetch: () => unknown, concerns: (event: RecordedEvent) => boolean = isRecord): () => void {
  const listeners = useContext(LiveContext);
  const latest = useRef({ refetch, concerns });
  const atOnce = useRef<() => void>(() => void latest.current.refetch());
  useEffect(() => {
    latest.current = { refetch, concerns };
  });
  useEffect(() => {
    if (!listeners) return;
    let timer: ReturnType<typeof setTimeout> | null = null;
    let lastMs = -Infinity;
    // An answer that is on its way may be older than what was recorded meanwhile, and asking again would only join it.
    let fetching = false;
    let next: 'soon' | 'at once' | null = null;
    let left = false;
    const fetchAgain = async () => {
      timer = null;
      lastMs = performance.now();
      fetching = true;
      await Promise.resolve(latest.current.refetch()).catch(() => undefined);
      fetching = false;
      const then = next;
      next = null;
      if (left) return;
      if (then === 'at once') void fetchAgain();
      else if (then === 'soon') soon();
    };
    const soon = () => {
      timer ??= setTimeout(() => void fetchAgain(), Math.max(soonMs, lastMs + atMostEveryMs - performance.now()));
    };
    const listener: Listener = (event) => {
      if (event && !latest.current.concerns(event)) return;
      if (fetching) next ??= 'soon';
      else soon();
    };
    listeners.add(listener);
    atOnce.current = () => {
      if (timer !== null) clearTimeout(timer);
      if (fetching) next = 'at once';
      else void fetchAgain();
    };
    return () => {
      left = true;
      listeners.delete(listener);
      if (timer !== null) clearTimeout(timer);
    };
  }, [listeners]);
  return useCallback(() => atOnce.current(), []);
}

const isRecord = ({ kind }: RecordedEvent): boolean => kind !== 'job';

/** For `useLive`: only records of these kinds concern the screen. */
export const ofKind = (...kinds: readonly string[]) => ({ kind }: RecordedEvent): boolean => kinds.includes(kind);
