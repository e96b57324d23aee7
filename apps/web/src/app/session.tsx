import { useApolloClient } from '@apollo/client/react';
import { createContext, useCallback, useContext, useEffect, useMemo, useState } from 'react';
import type { ReactNode } from 'react';
import type { MeFieldsFragment, Role } from '../generated/graphql.js';
import { EnterLab, SignIn, SignOut, WhoIsSignedIn } from './documents.js';
import type { Account } from '../offline/acting-for.js';
import { keepAccount, keptAccount, leaveOwed, oweLeaving, wipeAccounts } from '../offline/kept-account.js';
import { forgetShown, gotNoAnswer } from '../offline/stored-reads.js';
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
  /** For whom the page's requests are from now on. */
  readonly actFor: (account: Account | null) => void;
  readonly waiting: ReactNode;
  readonly failed: (again: () => void) => ReactNode;
  readonly children: ReactNode;
}

type Known = { readonly state: 'asking' | 'failed' } | { readonly state: 'known'; readonly me: Me | null };

const accountOf = (me: Me | null): Account | null => me && { personId: me.person.id, labId: me.lab.id };

export function SessionProvider({ lapsed, onRenewed, onChanged, actFor, waiting, failed, children }: SessionProviderProps) {
  const client = useApolloClient();
  const send = usePayload();
  const [known, setKnown] = useState<Known>({ state: 'asking' });
  const me = known.state === 'known' ? known.me : null;

  const know = useCallback((next: Me | null) => {
    actFor(accountOf(next));
    setKnown({ state: 'known', me: next });
  }, [actFor]);

  const ask = useCallback(async () => {
    setKnown({ state: 'asking' });
    try {
      if (leaveOwed()) {
        await client.mutate({ mutation: SignOut });
        oweLeaving(false);
      }
      const { data } = await client.query({ query: WhoIsSignedIn });
      await (data?.me ? keepAccount(data.me, accountOf(data.me)!) : wipeAccounts());
      know(data?.me ?? null);
    } catch (error) {
      // Without a server the one who was signed in here last goes on with what this device holds; the server looks again later.
      const kept = gotNoAnswer(error) && !leaveOwed() ? await keptAccount<Me>() : null;
      if (kept) know(kept);
      else setKnown({ state: 'failed' });
    }
  }, [client, know]);
  useEffect(() => void ask(), [ask]);

  /** What one person read in one lab must not show to the next, nor in another lab. */
  const become = useCallback(async (next: Me | null) => {
    actFor(accountOf(next));
    await client.clearStore();
    forgetShown();
    await (next ? keepAccount(next, accountOf(next)!) : wipeAccounts());
    onChanged();
    know(next);
    onRenewed();
  }, [actFor, client, know, onChanged, onRenewed]);

  const signIn = useCallback<Session['signIn']>(
    async (email, password, code) => {
      const sent = await send(SignIn, { email, password, code });
      if (sent.outcome === 'recorded') oweLeaving(false);
      if (sent.outcome !== 'recorded' || !sent.payload.me) return sent;
      const renewed = lapsed && me?.person.id === sent.payload.me.person.id && me.lab.id === sent.payload.me.lab.id;
      if (renewed) {
        actFor(accountOf(sent.payload.me));
        onRenewed();
      } else await become(sent.payload.me);
      return sent;
    },
    [actFor, become, lapsed, me, onRenewed, send],
  );

  const signOut = useCallback(async () => {
    await client.mutate({ mutation: SignOut }).then(() => oweLeaving(false), () => oweLeaving(true));
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
    know(data?.me ?? null);
  }, [client, know]);

  const session = useMemo(() => ({ me, lapsed: lapsed && me !== null, signIn, signOut, enterLab, refresh }), [me, lapsed, signIn, signOut, enterLab, refresh]);
  if (known.state === 'asking') return waiting;
  if (known.state === 'failed') return failed(() => void ask());
  return <SessionContext value={session}>{children}</SessionContext>;
}
