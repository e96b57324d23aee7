import { useQuery } from '@apollo/client/react';
import { Link, useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { ProtocolPageQuery } from '../../../generated/graphql.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Facts, Line, Lines, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { SignatureList, SignForm } from '../../../ui/signatures.js';
import { ApprovalMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Dated } from '../../../ui/dated.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { ProtocolPage } from './documents.js';
import { changesBetween, flagWords, parameterGroups, parameterText } from './parameter-words.js';

type Protocol = NonNullable<ProtocolPageQuery['protocol']>;

/** One version of a protocol: what it fixes, what it changed, and who approved it. */
export function ProtocolScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(ProtocolPage, { variables: { id } });
  useLive(() => refetch(), ofKind('protocol', 'signature'));
  const back = <Back to="/lab/protocols">Protocols</Back>;
  if (!data) return <Page title="Protocol" margin={back}><Strip>{error ? <Failed what="this protocol" again={() => void refetch()} /> : <Waiting what="the protocol" />}</Strip></Page>;
  if (!data.protocol) return <Page title="Protocol" margin={back}><Strip><Empty title="No protocol of this lab has this address." /></Strip></Page>;
  return <OneProtocol protocol={data.protocol} again={() => void refetch()} />;
}

function OneProtocol({ protocol, again }: { readonly protocol: Protocol; readonly again: () => void }) {
  const mayWrite = useHasRole('RESEARCHER', 'MANAGER');
  const { parameters, versions } = protocol;
  const subject = { ...protocol, kind: 'protocol' as const, word: 'protocol', stale: false };
  return (
    <Page title={`${protocol.name}, version ${protocol.version}`} margin={<><Back to="/lab/protocols">Protocols</Back><br /><ApprovalMark state={protocol.state} /></>}
      lead={protocol.changedBecause ? <>Changed because: “{protocol.changedBecause}”</> : 'The first version.'}
      actions={<>{mayWrite ? <ActionLink to={`/lab/protocols/write?from=${protocol.id}`}>Write the next version</ActionLink> : null}<ActionLink to={threadPath('protocol', protocol.id, 'up')}>Thread up</ActionLink></>}>
      <Changes protocol={protocol} />
      {parameterGroups.map(({ title, words }) => (
        <Section key={title} title={title}><Facts rows={words.map((word) => ({ name: word.label, value: parameterText(word, parameters) }))} /></Section>
      ))}
      <Section title="What asks" lead="A weighing with one of these is kept with an answer only. All other flags are kept as remarks.">
        <ul>{parameters.asks.map((code) => <li key={code}>{flagWords[code] ?? code}</li>)}</ul>
      </Section>
      <Section title="Signatures" lead="A manager who did not write it approves it. Runs can then be opened under it, and no longer under the version before.">
        <SignatureList subject={subject} />
        <SignForm subject={subject} onSigned={again} />
      </Section>
      {versions.length > 1 ? (
        <Section title="Versions">
          <Lines label={`Versions of ${protocol.name}`}>
            {versions.map(({ id, version, state, changedBecause, recordedAt, recordedBy }) => (
              <Line key={id} margin={<ApprovalMark state={state} />}>
                <span>{id === protocol.id ? <strong>Version {version}, this one</strong> : <Link to={`/lab/protocols/${id}`}>Version {version}</Link>}{changedBecause ? <>: “{changedBecause}”</> : null}</span>
                <span><Dated at={recordedAt} />, {recordedBy.displayName}</span>
              </Line>
            ))}
          </Lines>
        </Section>
      ) : null}
    </Page>
  );
}

function Changes({ protocol: { version, versions, parameters } }: { readonly protocol: Protocol }) {
  const before = versions.find((each) => each.version === version - 1);
  if (!before) return null;
  const changes = changesBetween(before.parameters, parameters);
  return (
    <Section title={`What changed from version ${before.version}`}>
      {changes.length === 0 ? <p>No parameter differs.</p> : (
        <Table caption={`Parameters that differ between version ${before.version} and version ${version}`} rows={changes} keyOf={({ label }) => label} columns={[
          { head: 'Parameter', cell: ({ label }) => label },
          { head: `Version ${before.version}`, cell: ({ before: then }) => then },
          { head: `Version ${version}`, cell: ({ now }) => <strong>{now}</strong> },
        ]} />
      )}
    </Section>
  );
}
