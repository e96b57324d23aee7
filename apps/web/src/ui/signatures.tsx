import { useHasRole, useSession } from '../app/session.js';
import type { ApprovalState, SignatureFieldsFragment, SignatureMeaning } from '../generated/graphql.js';
import { EntryForm, orNull, useEntry } from './entry.js';
import type { FieldBinding } from './entry.js';
import { PasswordField, SegmentField, TextField } from './fields.js';
import { Line, Lines } from './page.js';
import { usePayload } from './send.js';
import { SignResult } from './signature-documents.js';
import { ApprovalMark } from './state.js';
import { Dated } from './dated.js';
import { Notice } from './words.js';

const meanings: Readonly<Record<SignatureMeaning, { readonly did: string; readonly act: string; readonly mark: ApprovalState }>> = {
  AUTHORED: { did: 'authored', act: 'Authored: I made it', mark: 'DRAFT' },
  REVIEWED: { did: 'reviewed', act: 'Reviewed: I looked through it', mark: 'REVIEWED' },
  APPROVED: { did: 'approved', act: 'Approved: it may be used', mark: 'APPROVED' },
  WITHDRAWN: { did: 'withdrawn', act: 'Withdrawn: it may not be used', mark: 'WITHDRAWN' },
};

export interface SignedSubject {
  readonly kind: 'calibration_version' | 'threshold_certificate' | 'zone_rule' | 'protocol';
  readonly id: string;
  /** "calibration version". */
  readonly word: string;
  readonly state: ApprovalState;
  readonly stale: boolean;
  readonly contentHash: string;
  readonly recordedBy: { readonly id: string; readonly displayName: string };
  readonly recordedAt: string;
  readonly signatures: readonly SignatureFieldsFragment[];
}

/** Who made a result and who stands for it, with what each signature means. */
export function SignatureList({ subject }: { readonly subject: SignedSubject }) {
  return (
    <Lines label="Signatures">
      <Line margin={<Dated at={subject.recordedAt} />}><span>{subject.kind === 'protocol' ? 'Written by' : subject.kind === 'zone_rule' ? 'Recorded by' : 'Computed for'} <strong>{subject.recordedBy.displayName}</strong>, content <code>{subject.contentHash.slice(0, 12)}</code></span></Line>
      {subject.signatures.map((signature) => (
        <Line key={signature.id} margin={<Dated at={signature.recordedAt} />}>
          <span><ApprovalMark state={meanings[signature.meaning].mark} /> by <strong>{signature.recordedBy.displayName}</strong>{signature.statement ? <>: “{signature.statement}”</> : null}{signature.confirmedBy === 'PASSWORD_AND_CODE' ? ', with second factor' : null}</span>
          {signature.subjectHash === subject.contentHash ? null : <span>It was given to other content (<code>{signature.subjectHash.slice(0, 12)}</code>) and does not hold for this.</span>}
        </Line>
      ))}
    </Lines>
  );
}

/** The signatures that this person may give next, by the order draft, reviewed, approved and the rule that nobody judges their own work. */
function meaningsFor(subject: SignedSubject, personId: string, mayApprove: boolean): readonly SignatureMeaning[] {
  const own = subject.recordedBy.id === personId;
  const gave = (meaning: SignatureMeaning) => subject.signatures.some((signature) => signature.meaning === meaning && signature.recordedBy.id === personId);
  const reviewed = subject.signatures.some(({ meaning }) => meaning === 'REVIEWED');
  const reviewedFirst = subject.kind !== 'protocol';
  const approved = subject.signatures.some(({ meaning }) => meaning === 'APPROVED');
  return [
    ...(own && !gave('AUTHORED') ? (['AUTHORED'] as const) : []),
    ...(!own && !subject.stale && !reviewed && reviewedFirst ? (['REVIEWED'] as const) : []),
    ...(!own && !subject.stale && (reviewed || !reviewedFirst) && !approved && mayApprove && !gave('REVIEWED') ? (['APPROVED'] as const) : []),
    'WITHDRAWN',
  ];
}

function awaited(subject: SignedSubject, own: boolean): string {
  if (subject.kind === 'protocol') return subject.state === 'DRAFT' ? (own ? 'You wrote this protocol: a manager approves it.' : 'It awaits the approval of a manager who did not write it.') : '';
  if (subject.stale) return `A fact that this ${subject.word} rests on was amended: compute it anew and sign the new one.`;
  if (subject.state === 'DRAFT') return own ? `You made this ${subject.word}: another person reviews it.` : 'It awaits its review.';
  if (subject.state === 'REVIEWED') return 'It awaits approval by a manager or researcher who neither made nor reviewed it.';
  return '';
}

const empty = { meaning: '', statement: '', password: '', code: '' };

const useAsksCode = (): boolean => useSession().me?.secondFactor.set ?? false;

/** Whether all is given that a signature is confirmed by. */
export function useConfirmed({ password, code }: { readonly password: string; readonly code: string }): boolean {
  const asksCode = useAsksCode();
  return password !== '' && (!asksCode || code !== '');
}

/** What a signature is confirmed by: the password, and the code of whoever has set a second factor. */
export function ConfirmFields({ password, code }: { readonly password: FieldBinding<string>; readonly code: FieldBinding<string> }) {
  return (
    <>
      <PasswordField {...password} label="Your password, again" autoComplete="current-password" />
      {useAsksCode() ? <TextField {...code} label="Code" hint="What your authenticator shows now, or a recovery code" autoComplete="one-time-code" /> : null}
    </>
  );
}

/** Signs a result. The password is asked again, so that the word is that of the person and not of the screen left open. */
export function SignForm({ subject, onSigned }: { readonly subject: SignedSubject; readonly onSigned: () => void }) {
  const { me } = useSession();
  const send = usePayload();
  const maySign = useHasRole('RESEARCHER', 'MANAGER', 'FIELD_ENGINEER');
  const mayApprove = useHasRole(...(subject.kind === 'protocol' ? (['MANAGER'] as const) : (['RESEARCHER', 'MANAGER'] as const)));
  const offered = me && subject.state !== 'WITHDRAWN' ? meaningsFor(subject, me.person.id, mayApprove) : [];
  const entry = useEntry({
    initial: empty,
    send: ({ meaning, statement, password, code }, id) => send(SignResult, {
      input: { id, subjectKind: subject.kind, subjectId: subject.id, meaning: (meaning || offered[0]) as SignatureMeaning, statement: orNull(statement), password, code: orNull(code) },
    }),
    onRecorded: onSigned,
  });
  const confirmed = useConfirmed(entry.values);
  const note = awaited(subject, me?.person.id === subject.recordedBy.id);
  if (!maySign || offered.length === 0) return note ? <p>{note}</p> : null;
  const chosen = entry.values.meaning || offered[0]!;
  return (
    <>
      {note ? <p>{note}</p> : null}
      {chosen === 'WITHDRAWN' ? <Notice tone="ask" title={`Withdrawing ends the use of this ${subject.word} for good.`}>What rests on it stays on record and shows that it was withdrawn.</Notice> : null}
      <EntryForm entry={entry} action="Sign" label={`Sign this ${subject.word}`} disabled={!confirmed}>
        <SegmentField {...entry.field('meaning')} value={chosen} label="What your signature means" choices={offered.map((meaning) => ({ value: meaning, label: meanings[meaning].act }))} wide />
        {chosen === 'WITHDRAWN'
          ? <TextField {...entry.field('statement')} label="Reason" hint="Why it may not be used: whoever holds what rests on it is told" />
          : <TextField {...entry.field('statement')} label="Statement" hint="What you looked at, or why" optional />}
        <ConfirmFields password={entry.field('password')} code={entry.field('code')} />
      </EntryForm>
    </>
  );
}
