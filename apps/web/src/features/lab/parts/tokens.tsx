import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import type { AccessTokenListQuery, TokenScope } from '../../../generated/graphql.js';
import { useHasRole, useSession } from '../../../app/session.js';
import { Dated } from '../../../ui/dated.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, PasswordField, TextField, TicksField } from '../../../ui/fields.js';
import { useLive } from '../../../ui/live.js';
import { Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { Table } from '../../../ui/table.js';
import { Action, Dialog, Empty, Failed, Notice, RawLine, Waiting } from '../../../ui/words.js';
import { AccessTokenList, CreateAccessToken, RevokeAccessToken } from '../documents.js';
import { scopesFor, scopeWord } from './token-scopes.js';

type Token = AccessTokenListQuery['accessTokens'][number];

/** What a script, a logger or a bench computer acts with; made here, and ended here. */
export function Tokens() {
  const mayMake = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER', 'AUDITOR', 'FIELD_ENGINEER');
  const [making, setMaking] = useState(false);
  const [ending, setEnding] = useState<Token | null>(null);
  const { data, error, refetch } = useQuery(AccessTokenList);
  useLive(() => refetch());
  return (
    <Section
      title="Access tokens" lead="A script, a logger or a bench computer acts with one for the person who made it, within its scopes. What comes through it says so in the ledger."
      actions={mayMake ? <Action onClick={() => setMaking(true)}>Make a token</Action> : null}
    >
      {!data ? (error ? <Failed what="the tokens" again={() => void refetch()} /> : <Waiting what="the tokens" />) : null}
      {data?.accessTokens.length === 0 ? <Empty title="No token was made yet.">A bench computer that listens to a balance needs one with the scope “{scopeWord('LISTEN')}”.</Empty> : null}
      {data && data.accessTokens.length > 0 ? (
        <Table caption="Access tokens, newest first" rows={data.accessTokens} keyOf={({ id }) => id} columns={[
          { head: 'Name', cell: ({ label }) => label },
          { head: 'Scopes', cell: ({ scopes }) => scopes.map(scopeWord).join(', ') },
          { head: 'Acts for', cell: ({ recordedBy }) => recordedBy.displayName },
          { head: 'State', cell: (token) => <TokenState token={token} /> },
          { head: 'End it', cell: (token) => (token.stands ? <Action kind="quiet" onClick={() => setEnding(token)}>Revoke</Action> : null) },
        ]} />
      ) : null}
      <Dialog title="Make an access token" opened={making} onClose={() => setMaking(false)}>
        <TokenEntry onDone={() => { setMaking(false); void refetch(); }} />
      </Dialog>
      <Dialog title={`Revoke the token ${ending?.label ?? ''}`} opened={ending !== null} onClose={() => setEnding(null)}>
        {ending ? <RevocationEntry token={ending} onDone={() => { setEnding(null); void refetch(); }} /> : null}
      </Dialog>
    </Section>
  );
}

function TokenState({ token: { stands, revokedAt, revokedBy, expiresAt } }: { readonly token: Token }) {
  if (revokedAt) return <>Revoked <Dated at={revokedAt} /> by {revokedBy?.displayName}</>;
  return <>{stands ? 'Stands until ' : 'Expired '}<Dated at={expiresAt} /></>;
}

const spans = [['7', 'A week'], ['90', 'Three months'], ['365', 'A year']] as const;
const empty = { label: '', scopes: [] as readonly string[], expiresAt: '90', password: '' };
const DAY_MS = 86_400_000;

function TokenEntry({ onDone }: { readonly onDone: () => void }) {
  const send = usePayload();
  const { me } = useSession();
  const [secret, setSecret] = useState<string | null>(null);
  const entry = useEntry({
    initial: empty,
    send: (values, id, at) => send(CreateAccessToken, { input: {
      id, label: values.label.trim(), scopes: [...values.scopes] as TokenScope[], password: values.password,
      // From the moment it was first sent: a retry asks for the same end.
      expiresAt: new Date(Date.parse(at) + Number(values.expiresAt) * DAY_MS).toISOString(),
    } }),
    onRecorded: (payload) => setSecret(payload.secret ?? ''),
  });
  if (secret !== null) return <Secret secret={secret} onDone={onDone} />;
  const choices = scopesFor(me?.roles ?? []).map(({ scope, purpose }) => ({ value: scope, label: scopeWord(scope), beside: purpose }));
  return (
    <EntryForm entry={entry} action="Make the token" onCancel={onDone}>
      <TextField {...entry.field('label')} label="Name" hint="What it is for or where it stands, such as bench computer 2" />
      <ChoiceField {...entry.field('expiresAt')} label="Good for" choices={spans.map(([value, label]) => ({ value, label }))} />
      <TicksField {...entry.field('scopes')} label="Scopes" choices={choices} empty={<p>Your roles cover no scope.</p>} />
      <PasswordField {...entry.field('password')} label="Your password" hint="Asked again, because a token acts for you" autoComplete="current-password" />
    </EntryForm>
  );
}

/** Shown once. An empty one was made by an earlier sending whose answer was lost. */
function Secret({ secret, onDone }: { readonly secret: string; readonly onDone: () => void }) {
  const [copied, setCopied] = useState(false);
  if (secret === '') return <Notice tone="ask" title="The token was made, but its secret was lost on the way."><p>Revoke it and make another.</p><p><Action onClick={onDone}>Close</Action></p></Notice>;
  const copy = () => void navigator.clipboard?.writeText(secret).then(() => setCopied(true), () => undefined);
  return (
    <>
      <Notice tone="ask" title="Keep this secret now: it is shown this once.">
        <p>Give it to the program as THREADLEAF_TOKEN. Whoever has it acts as you within its scopes; if it gets about, revoke it.</p>
      </Notice>
      <p><RawLine>{secret}</RawLine></p>
      <div><Action kind="plain" onClick={copy}>{copied ? 'Copied' : 'Copy it'}</Action> <Action onClick={onDone}>I have kept it</Action></div>
    </>
  );
}

const noReason = { reason: '' };

function RevocationEntry({ token, onDone }: { readonly token: Token; readonly onDone: () => void }) {
  const send = usePayload();
  const entry = useEntry({ initial: noReason, send: (values, id) => send(RevokeAccessToken, { input: { id, accessTokenId: token.id, reason: values.reason } }), onRecorded: onDone });
  return (
    <EntryForm entry={entry} action="Revoke for good" onCancel={onDone}>
      <AreaField {...entry.field('reason')} label="Why" hint="Stands in the ledger. The token ends within seconds." />
    </EntryForm>
  );
}
