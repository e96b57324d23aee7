import { useApolloClient, useQuery } from '@apollo/client/react';
import { createContext, useCallback, useContext, useMemo } from 'react';
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
  readonly signIn: (email: string, password: string) => Promise<Sent<{ me?: Me | null }>>;
  readonly signOut: () => Promise<void>;
  readonly enterLab: (labId: string) => Promise<void>;
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
  readonly waiting: ReactNode;
  readonly failed: (again: () => void) => ReactNode;
  readonly children: ReactNode;
}

export function SessionProvider({ lapsed, onRenewed, waiting, failed, children }: SessionProviderProps) {
  const client = useApolloClient();
  const send = usePayload();
  const { data, error, refetch } = useQuery(WhoIsSignedIn, { fetchPolicy: 'cache-and-network' });
  const me = data?.me ?? null;

  const keep = useCallback(
    (next: Me | null) => client.writeQuery({ query: WhoIsSignedIn, data: { __typename: 'Query', me: next } as never }),
    [client],
  );

  const signIn = useCallback<Session['signIn']>(
    async (email, password) => {
      const sent = await send(SignIn, { email, password });
      if (sent.outcome === 'recorded' && sent.payload.me) {
        const renewed = lapsed && me?.person.id === sent.payload.me.person.id;
        // Another person's session must not show what the last one had read.
        if (!renewed) await client.clearStore();
        keep(sent.payload.me);
        onRenewed();
      }
      return sent;
    },
    [client, keep, lapsed, me, onRenewed, send],
  );

  const signOut = useCallback(async () => {
    await client.mutate({ mutation: SignOut }).catch(() => undefined);
    await client.clearStore();
    keep(null);
    onRenewed();
  }, [client, keep, onRenewed]);

  const enterLab = useCallback(
    async (labId: string) => {
      const sent = await send(EnterLab, { labId });
      if (sent.outcome === 'recorded' && sent.payload.me) {
        await client.clearStore();
        keep(sent.payload.me);
      }
    },
    [client, keep, send],
  );

  const session = useMemo(() => ({ me, lapsed: lapsed && me !== null, signIn, signOut, enterLab }), [me, lapsed, signIn, signOut, enterLab]);
  if (!data && error) return failed(() => void refetch());
  if (!data) return waiting;
  return <SessionContext value={session}>{children}</SessionContext>;
}
