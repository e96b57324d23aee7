import { useApolloClient } from '@apollo/client/react';
import { createContext, useCallback, useContext, useEffect, useMemo, useState } from 'react';
import type { ReactNode } from 'react';
import type { MeFieldsFragment, Role } from '../generated/graphql.js';
import { EnterLab, SignIn, SignOut, WhoIsSignedIn } from './documents.js';
import { usePayload } from '../ui/send.js';
import type { Sent } from '../ui/send.js';

export type Me = MeFieldsFragment;

export interface Session {
  /** Null when nobody is signed in. */
  readonly me: Me | null;
  /** True once the server forgot a session that this page had: the page stays, a sign-in is laid over it. */
  readonly lapsed: boolean;
  /** The code is that of the second factor, for whoever has one. */
  readonly signIn: (email: string, password: string, code: string | null) => Promise<Sent<{ me?: Me | null }>>;
  readonly signOut: () => Promise<void>;
  readonly enterLab: (labId: string) => Promise<void>;
  /** Asks the server again who this is, after something about the account was changed. */
  readonly refresh: () => Promise<void>;
}

const SessionContext = createContext<Session | null>(null);

/** Who is signed in, in which lab, with which roles. */
export function useSession(): Session {
  const session = useContext(SessionContext);
  if (!session) throw new Error('useSession is used outside SessionProvider');
  return session;
}

/** True when the person signed in has any of these roles in this lab. The server decides; the screen only spares a refusal. */
export function useHasRole(...roles: readonly Role[]): boolean {
  const { me } = useSession();
  return me?.roles.some((role) => roles.includes(role)) ?? false;
}

interface SessionProviderProps {
  readonly lapsed: boolean;
  readonly onRenewed: () => void;
  /** Another person or another lab from now on. */
  readonly onChanged: () => void;
  readonly waiting: ReactNode;
  readonly failed: (again: () => void) => ReactNode;
  readonly children: ReactNode;
}

type Known = { readonly state: 'asking' | 'failed' } | { readonly state: 'known'; readonly me: Me | null };

export function SessionProvider({ lapsed, onRenewed, onChanged, waiting, failed, children }: SessionProviderProps) {
  const client = useApolloClient();
  const send = usePayload();
  const [known, setKnown] = useState<Known>({ state: 'asking' });
  const me = known.state === 'known' ? known.me : null;

  const ask = useCallback(() => {
    setKnown({ state: 'asking' });
    client.query({ query: WhoIsSignedIn }).then(
      ({ data }) => setKnown({ state: 'known', me: data?.me ?? null }),
      () => setKnown({ state: 'failed' }),
    );
  }, [client]);
  useEffect(ask, [ask]);

  /** What one person read in one lab must not show to the next, nor in another lab. */
  const become = useCallback(async (next: Me | null) => {
    await client.clearStore();
    onChanged();
    setKnown({ state: 'known', me: next });
    onRenewed();
  }, [client, onChanged, onRenewed]);

  const signIn = useCallback<Session['signIn']>(
    async (email, password, code) => {
      const sent = await send(SignIn, { email, password, code });
      if (sent.outcome !== 'recorded' || !sent.payload.me) return sent;
      const renewed = lapsed && me?.person.id === sent.payload.me.person.id && me.lab.id === sent.payload.me.lab.id;
      if (renewed) onRenewed();
      else await become(sent.payload.me);
      return sent;
    },
    [become, lapsed, me, onRenewed, send],
  );

  const signOut = useCallback(async () => {
    await client.mutate({ mutation: SignOut }).catch(() => undefined);
    await become(null);
  }, [become, client]);

  const enterLab = useCallback(
    async (labId: string) => {
      const sent = await send(EnterLab, { labId });
      if (sent.outcome === 'recorded' && sent.payload.me) await become(sent.payload.me);
    },
    [become, send],
  );

  const refresh = useCallback(async () => {
    const { data } = await client.query({ query: WhoIsSignedIn, fetchPolicy: 'network-only' });
    setKnown({ state: 'known', me: data?.me ?? null });
  }, [client]);

  const session = useMemo(() => ({ me, lapsed: lapsed && me !== null, signIn, signOut, enterLab, refresh }), [me, lapsed, signIn, signOut, enterLab, refresh]);
  if (known.state === 'asking') return waiting;
  if (known.state === 'failed') return failed(ask);
  return <SessionContext value={session}>{children}</SessionContext>;
}
