import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link, useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { StaleMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Action, ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { LeafPage } from '../documents.js';
import { DiscDialog } from './record-disc.js';

const concerns = ofKind('disc', 'rwc_series');

/** One leaf and the discs punched from it. */
export function LeafScreen() {
  const { id = '' } = useParams();
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const [recording, setRecording] = useState(false);
  const { data, error, refetch } = useQuery(LeafPage, { variables: { id } });
  useLive(() => refetch(), concerns);
  const back = <Back to="/samples/plants">Plants and leaves</Back>;
  if (!data) return <Page title="Leaf" margin={back}><Strip>{error ? <Failed what="this leaf" again={() => void refetch()} /> : <Waiting what="the leaf" />}</Strip></Page>;
  const { leaf } = data;
  if (!leaf) return <Page title="Leaf" margin={back}><Strip><Empty title="No leaf of this lab has this address." /></Strip></Page>;
  return (
    <Page title={`Leaf ${leaf.label}`} margin={back} lead={`${leaf.plant.crop.name}, plant ${leaf.plant.label}`} actions={
      <>
        <ActionLink to={threadPath('leaf', leaf.id, 'up')}>Thread up</ActionLink>
        {mayRecord ? <Action onClick={() => setRecording(true)}>Record a disc</Action> : null}
      </>
    }>
      <Strip>
        <Facts rows={[
          { name: 'Cultivar', value: leaf.plant.cultivar ?? 'not told' },
          { name: 'Treatment', value: leaf.plant.treatment ?? 'not told' },
          { name: 'Position', value: leaf.position ?? 'not told' },
          { name: 'Growth stage', value: leaf.growthStage ?? 'not told' },
          { name: 'Cut at', value: leaf.cutAt ? <Moment at={leaf.cutAt} /> : 'not told' },
          { name: 'Recorded', value: <><Moment at={leaf.recordedAt} /> by {leaf.recordedBy.displayName}</> },
        ]} />
      </Strip>
      <Section title="Discs">
        {leaf.discs.length === 0 ? <Empty title="No disc has been punched from this leaf yet.">Record its first disc with the button above.</Empty> : (
          <Table caption={`Discs of leaf ${leaf.label}`} rows={leaf.discs} keyOf={(disc) => disc.id} columns={[
            { head: 'Disc', cell: (disc) => <Link to={`/samples/disc/${disc.id}`}>{disc.label}</Link> },
            { head: 'Punch, mm', number: true, cell: (disc) => disc.diameterMm ?? 'whole leaf' },
            { head: 'RWC series', cell: (disc) => (disc.rwcSeries ? (disc.rwcSeries.stale ? <StaleMark /> : 'computed') : 'none yet') },
          ]} />
        )}
      </Section>
      <DiscDialog opened={recording} onClose={() => setRecording(false)} leafId={leaf.id} onRecorded={() => void refetch()} />
    </Page>
  );
}
