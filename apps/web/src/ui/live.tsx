import { useSubscription } from '@apollo/client/react';
import { createContext, useContext, useEffect, useMemo, useRef } from 'react';
import type { ReactNode } from 'react';
import type { TypedDocumentNode } from '@apollo/client';
import type { RecordedInLabSubscription } from '../generated/graphql.js';

export type RecordedEvent = RecordedInLabSubscription['recorded'];
type Listener = (event: RecordedEvent) => void;

const LiveContext = createContext<Set<Listener> | null>(null);

interface LiveProviderProps {
  readonly subscription: TypedDocumentNode<RecordedInLabSubscription, Record<string, never>>;
  readonly children: ReactNode;
}

/** One subscription for the whole page tells every screen what was written in the lab. */
export function LiveProvider({ subscription, children }: LiveProviderProps) {
  const listeners = useMemo(() => new Set<Listener>(), []);
  useSubscription(subscription, {
    onData: ({ data }) => {
      if (!data.data) return;
      for (const listener of listeners) listener(data.data.recorded);
    },
    // A lost socket only means that others' work shows later: the client tries again by itself.
    onError: () => undefined,
  });
  return <LiveContext value={listeners}>{children}</LiveContext>;
}

/**
 * Fetches again a moment after something was recorded that `concerns` the screen (default: anything in the lab).
 * Many records in a burst make one fetch.
 */
export function useLive(refetch: () => unknown, concerns: (event: RecordedEvent) => boolean = () => true): void {
  const listeners = useContext(LiveContext);
  const latest = useRef({ refetch, concerns });
  useEffect(() => {
    latest.current = { refetch, concerns };
  });
  useEffect(() => {
    if (!listeners) return;
    let timer: ReturnType<typeof setTimeout> | null = null;
    const listener: Listener = (event) => {
      if (timer !== null || !latest.current.concerns(event)) return;
      timer = setTimeout(() => {
        timer = null;
        void latest.current.refetch();
      }, 250);
    };
    listeners.add(listener);
    return () => {
      listeners.delete(listener);
      if (timer !== null) clearTimeout(timer);
    };
  }, [listeners]);
}
