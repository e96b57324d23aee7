import { useApolloClient } from '@apollo/client/react';
import { useEffect } from 'react';
import { MeasureClock } from './documents.js';

const EVERY_MS = 4_000;

/** While the server is lost, asks it now and then: the answer itself tells that it is back. */
export function useProbe(lost: boolean): void {
  const client = useApolloClient();
  useEffect(() => {
    if (!lost) return;
    const ask = () => void client.query({ query: MeasureClock, fetchPolicy: 'no-cache' }).catch(() => undefined);
    const timer = setInterval(ask, EVERY_MS);
    window.addEventListener('online', ask);
    return () => {
      clearInterval(timer);
      window.removeEventListener('online', ask);
    };
  }, [client, lost]);
}
