import { useQuery } from '@apollo/client/react';
import { useMemo } from 'react';
import { useParams } from 'react-router';
import { Dated } from '../../../ui/dated.js';
import { capital, kindWord } from '../../../ui/kind-words.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { LedgerProof, ProofOfEntry } from '../documents.js';
import { FoundLine } from './found.js';
import { Kept } from './kept.js';
import { keyUnproven, proveEntry } from './prove.js';
import styles from './ledger.module.css';
import { doneWord } from './words.js';

/** /ledger/entry/:id: one entry, and the proof of it, checked on the reader's own computer. */
export function ProofScreen() {
  const { id = '' } = useParams();
  const entries = useQuery(LedgerProof, { variables: { id }, fetchPolicy: 'no-cache' });
  const entry = entries.data?.ledger.nodes[0];
  const proofs = useQuery(ProofOfEntry, { variables: { entryId: entry?.id ?? '' }, skip: !entry, fetchPolicy: 'no-cache' });
  const given = proofs.data?.inclusionProof;
  const keys = proofs.data?.ledgerKeys;
  const findings = useMemo(() => (entry && given && keys ? proveEntry({ ...entry, personId: entry.person.id }, given, keys) : null), [entry, given, keys]);
  const error = entries.error ?? proofs.error;
  const failed = findings?.some(({ status }) => status === 'fails');
  return (
    <Page title={entry ? `Proof of the ${entry.label}` : 'Proof of an entry'} margin={<Back to="/ledger">Ledger</Back>} lead="The server gives the proof; this computer checks it."
      actions={entry ? <ActionLink to={threadPath(entry.subjectKind, entry.subjectId)}>Follow its thread</ActionLink> : null}>
      {!entry ? <Strip>{error ? <Failed what="this entry" again={() => void entries.refetch()} /> : entries.data ? <Empty title="This lab’s ledger has no such entry." /> : <Waiting what="the entry" />}</Strip> : null}
      {entry ? (
        <Section title="The entry">
          <Facts rows={[
            { name: 'What', value: `${capital(doneWord(entry.action))}: ${entry.label}, ${entry.summary}` },
            { name: 'Who', value: entry.throughToken ? `${entry.person.displayName}, through token ${entry.throughToken}` : entry.person.displayName },
            { name: 'When', value: <Dated at={entry.recordedAt} /> },
            entry.reason ? { name: 'Reason', value: `“${entry.reason}”` } : null,
            { name: 'Content, SHA-256', value: <span className={styles.wide}>{entry.contentHash}</span> },
            { name: capital(kindWord(entry.subjectKind)), value: <span className={styles.wide}>{entry.subjectId}</span> },
            { name: 'Entry', value: <span className={styles.wide}>{entry.id}</span> },
          ]} />
        </Section>
      ) : null}
      {entry ? (
        <Section title="What holds" lead="Merkle tree after RFC 9162, signature Ed25519, worked out in this browser.">
          {proofs.data && !given ? <Notice tone="ask" title="No signed checkpoint covers this entry yet.">It was written a moment ago. Open this page again in a few seconds.</Notice> : null}
          {findings?.map((found) => <FoundLine key={found.question} found={found} />)}
          {findings ? <FoundLine found={keyUnproven} /> : null}
          {failed ? <Notice tone="alarm" title="This entry is not proven.">Do not rely on it. Keep a copy of this page and tell whoever audits the lab.</Notice> : null}
          {!proofs.data && !proofs.error ? <Waiting what="the proof" /> : null}
        </Section>
      ) : null}
      {given && keys ? (
        <Section title="Compare with what you kept" lead="A server that lies could lie the same way to everybody who asks only it. A checkpoint kept where it cannot reach finds that out.">
          <Kept checkpoint={given.checkpoint} keys={keys} />
        </Section>
      ) : null}
      {given ? (
        <Section title="What was hashed">
          <p>The leaf, letter by letter:</p>
          <pre className={styles.note}>{given.leaf}</pre>
          <p>The checkpoint:</p>
          <pre className={styles.note}>{given.checkpoint.text}</pre>
        </Section>
      ) : null}
      <Section title="What trusting this rests on">
        <p>That this page itself came unaltered: it is served by the same server. For an answer that owes nothing to it, check an evidence pack with a verifier of your own. It shows that what was recorded is what is shown, by which account and in which order; not that a balance was right or a leaf was the one named.</p>
      </Section>
    </Page>
  );
}
