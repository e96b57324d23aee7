import { useQuery } from '@apollo/client/react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Line, Lines, Page, Section } from '../../../ui/page.js';
import { ApprovalMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { ProtocolTable } from './documents.js';

/** All protocols of the lab: the version that runs are opened under, and what is being written. */
export function ProtocolsScreen() {
  const mayWrite = useHasRole('RESEARCHER', 'MANAGER');
  const { data, error, refetch } = useQuery(ProtocolTable);
  useLive(() => refetch(), ofKind('protocol', 'signature'));
  return (
    <Page title="Protocols" margin={<Back to="/lab">Lab</Back>} lead="How discs are taken, hydrated, weighed, read and dried, and when the bench asks. A run stays bound to the version it was opened under."
      actions={mayWrite ? <ActionLink kind="strong" to="/lab/protocols/write">Write a protocol</ActionLink> : null}>
      <Section title="In use and in writing">
        {!data ? (error ? <Failed what="the protocols" again={() => void refetch()} /> : <Waiting what="the protocols" />) : null}
        {data?.protocols.length === 0 ? <Empty title="No protocol has been written yet."><p>Until then the bench works by the house’s own parameters, which are common practice.</p></Empty> : null}
        {data && data.protocols.length > 0 ? (
          <Lines label="Protocols">
            {data.protocols.flatMap(({ name, versions }) => versions.map((version) => (
              <Line key={version.id} margin={<ApprovalMark state={version.state} />}>
                <span><Link to={`/lab/protocols/${version.id}`}><strong>{name}</strong>, version {version.version}</Link></span>
                <span>Written <Moment at={version.recordedAt} /> by {version.recordedBy.displayName}</span>
              </Line>
            )))}
          </Lines>
        ) : null}
      </Section>
    </Page>
  );
}
