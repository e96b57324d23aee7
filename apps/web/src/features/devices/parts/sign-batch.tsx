import { useState } from 'react';
import { Link } from 'react-router';
import { useHasRole, useSession } from '../../../app/session.js';
import type { BatchPageQuery, SignatureMeaning, SignCertificateBatchMutation } from '../../../generated/graphql.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { SegmentField, TextField } from '../../../ui/fields.js';
import { Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { ConfirmFields, useConfirmed } from '../../../ui/signatures.js';
import { Notice } from '../../../ui/words.js';
import { SignCertificateBatch } from '../documents.js';

type Batch = NonNullable<BatchPageQuery['certificateBatch']>;
type Signed = SignCertificateBatchMutation['signCertificateBatch'];

const acts = { REVIEWED: 'Reviewed: I looked through them', APPROVED: 'Approved: they may be used' } as const;
const initial = { meaning: '', statement: '', password: '', code: '' };

/** One person's word on all certificates of a batch: the password once, a signature on each. */
export function SignBatch({ batch, onSigned }: { readonly batch: Batch; readonly onSigned: () => void }) {
  const { me } = useSession();
  const send = usePayload();
  const maySign = useHasRole('RESEARCHER', 'MANAGER', 'FIELD_ENGINEER');
  const mayApprove = useHasRole('RESEARCHER', 'MANAGER');
  const [told, setTold] = useState<Signed | null>(null);
  const count = (state: string): number => batch.outcomes.filter(({ certificate }) => certificate?.state === state).length;
  const [drafts, reviewed] = [count('DRAFT'), count('REVIEWED')];
  const byOthers = batch.outcomes.filter(({ certificate }) => certificate?.state === 'REVIEWED'
    && !certificate.signatures.some(({ meaning, recordedBy }) => meaning === 'REVIEWED' && recordedBy.id === me?.person.id)).length;
  const offered = [...(drafts > 0 ? (['REVIEWED'] as const) : []), ...(byOthers > 0 && mayApprove ? (['APPROVED'] as const) : [])];
  const entry = useEntry({
    initial,
    send: ({ meaning, statement, password, code }, id) => send(SignCertificateBatch, {
      input: { id, certificateBatchId: batch.id, meaning: (meaning || offered[0]) as SignatureMeaning, statement: orNull(statement), password, code: orNull(code) },
    }),
    onRecorded: (payload) => { setTold(payload); onSigned(); },
  });
  const confirmed = useConfirmed(entry.values);
  const own = me?.person.id === batch.recordedBy.id;
  const outcome = told ? (
    <Notice tone={told.left.length > 0 ? 'ask' : 'calm'} title={`${told.signed} ${told.signed === 1 ? 'certificate' : 'certificates'} signed${told.left.length > 0 ? `, ${told.left.length} left` : ''}.`}>
      {told.left.length > 0 ? <ul>{told.left.map(({ certificate, message }) => <li key={certificate.id}><Link to={`/devices/certificate/${certificate.id}`}>{certificate.deviceUnit.label}</Link>: {message}</li>)}</ul> : null}
    </Notice>
  ) : null;
  if (drafts + reviewed === 0) return outcome;
  const waits = [drafts > 0 ? `${drafts} ${drafts === 1 ? 'awaits its' : 'await their'} review` : '', reviewed > 0 ? `${reviewed} ${reviewed === 1 ? 'awaits its' : 'await their'} approval` : ''].filter(Boolean).join(', ');
  return (
    <Section title="Sign all of them" lead={`${waits}. One word for all, a signature on each; by two people who did not ask for them.`}>
      {outcome}
      {own ? <p>You asked for these certificates: another person reviews them, a third approves.</p> : null}
      {!own && reviewed > byOthers ? <p>You reviewed {reviewed - byOthers} of them: another person approves those.</p> : null}
      {!own && maySign && offered.length > 0 ? (
        <EntryForm entry={entry} action="Sign all" label="Sign these certificates" disabled={!confirmed}>
          <SegmentField {...entry.field('meaning')} value={entry.values.meaning || offered[0]!} label="What your signature means" choices={offered.map((meaning) => ({ value: meaning, label: acts[meaning] }))} wide />
          <TextField {...entry.field('statement')} label="Statement" hint="What you looked at, or why" optional />
          <ConfirmFields password={entry.field('password')} code={entry.field('code')} />
        </EntryForm>
      ) : null}
    </Section>
  );
}
