import { ApolloProvider } from '@apollo/client/react';
import { useCallback, useEffect, useMemo, useState } from 'react';
import { SignInPage } from '../features/sign-in/page.js';
import { LiveProvider } from '../ui/live.js';
import { OutboxProvider } from '../offline/outbox.js';
import { Dialog, Failed, Waiting } from '../ui/words.js';
import { SignInForm } from '../features/sign-in/parts/sign-in-form.js';
import { linkToServer } from './client.js';
import { KeptForWhom } from '../ui/kept-for-whom.js';
import { RecordedInLab } from './documents.js';
import { SessionProvider, useSession } from './session.js';
import { Shell } from './shell.js';

/** The whole program: who is signed in, then the screens of their lab. */
export function App() {
  const [lapsed, setLapsed] = useState(false);
  const { client, restartSocket, actFor } = useMemo(() => linkToServer(() => setLapsed(true)), []);
  const renewed = useCallback(() => setLapsed(false), []);
  return (
    <ApolloProvider client={client}>
      <SessionProvider lapsed={lapsed} onRenewed={renewed} onChanged={restartSocket} actFor={actFor} waiting={<Waiting what="who is signed in" />}
        failed={(again) => <Unreached again={again} />}>
        <Inside />
      </SessionProvider>
    </ApolloProvider>
  );
}

function Inside() {
  const { me, lapsed } = useSession();
  if (!me) return <SignInPage />;
  return (
    <OutboxProvider key={`${me.lab.id} ${me.person.id}`} labId={me.lab.id} personId={me.person.id} labName={me.lab.name} personName={me.person.displayName}>
      <LiveProvider subscription={RecordedInLab}>
        <Shell />
        <Dialog title="The session has ended" opened={lapsed}>
          <p>Sign in again as {me.person.displayName} to go on. What you typed is still on the page.</p>
          <KeptForWhom />
          <SignInForm />
        </Dialog>
      </LiveProvider>
    </OutboxProvider>
  );
}

/** No server, and nobody was signed in here that could go on without it. */
function Unreached({ again }: { readonly again: () => void }) {
  useEffect(() => {
    window.addEventListener('online', again);
    return () => window.removeEventListener('online', again);
  }, [again]);
  return (
    <main style={{ padding: '2rem 1.5rem', display: 'grid', gap: '1.25rem', justifyItems: 'start' }}>
      <h1>Threadleaf</h1>
      <Failed what="an answer" again={again} />
      <KeptForWhom />
    </main>
  );
}
