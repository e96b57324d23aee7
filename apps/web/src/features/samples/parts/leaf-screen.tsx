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
import { CustodySection } from './custody-list.js';
import { AmendDescription, Code, Corrections, LossNotice, Where } from './description.js';
import { DiscDialog } from './record-disc.js';
import styles from './samples.module.css';

const concerns = ofKind('disc', 'rwc_series', 'custody', 'sample_loss', 'sample_amendment', 'amendment');

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
    <Page title={`Leaf ${leaf.label}`} margin={back} lead={<>{leaf.plant.crop.name}, <Link to={`/samples/plant/${leaf.plant.id}`}>plant {leaf.plant.label}</Link></>} actions={
      <>
        <ActionLink to={threadPath('leaf', leaf.id, 'up')}>Thread up</ActionLink>
        <ActionLink to={`/samples/labels?kind=LEAF&ids=${leaf.id}`}>Print label</ActionLink>
        {mayRecord ? <ActionLink to={`/samples/record?leaves=${leaf.id}`}>Record discs</ActionLink> : null}
        {mayRecord ? <Action onClick={() => setRecording(true)}>Record a disc</Action> : null}
      </>
    }>
      <Strip>
        <LossNotice what={`Leaf ${leaf.label}`} loss={leaf.loss} mayRetract={mayRecord} onFound={() => void refetch()} />
        <Facts rows={[
          { name: 'Code', value: <Code>{leaf.code}</Code> },
          { name: 'Where', value: <Where custody={leaf.custody} /> },
          { name: 'Cultivar', value: leaf.plant.cultivar ?? 'not told' },
          { name: 'Treatment', value: leaf.plant.treatment ?? 'not told' },
          { name: 'Position', value: leaf.position ?? 'not told' },
          { name: 'Growth stage', value: leaf.growthStage ?? 'not told' },
          { name: 'Cut at', value: leaf.cutAt ? <Moment at={leaf.cutAt} /> : 'not told' },
          { name: 'Recorded', value: <><Moment at={leaf.recordedAt} /> by {leaf.recordedBy.displayName}</> },
        ]} />
        {leaf.photo ? <a href={leaf.photo.url} target="_blank" rel="noreferrer"><img className={styles.photo} src={leaf.photo.url} alt={`Leaf ${leaf.label}, photo ${leaf.photo.name}`} /></a> : null}
        {mayRecord ? <div><AmendDescription kind="LEAF" id={leaf.id} label={`leaf ${leaf.label}`} standing={{ position: leaf.position, growthStage: leaf.growthStage }} onAmended={() => void refetch()} /></div> : null}
        <Corrections amendments={leaf.amendments} />
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
      <CustodySection subject={{ kind: 'leaf', id: leaf.id, label: leaf.label }} gone={leaf.loss !== null} onChanged={() => void refetch()} />
      <DiscDialog opened={recording} onClose={() => setRecording(false)} leafId={leaf.id} onRecorded={() => void refetch()} />
    </Page>
  );
}
