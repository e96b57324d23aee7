import { useQuery } from '@apollo/client/react';
import { Link, useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { PlantPage } from '../documents.js';
import { CustodySection } from './custody-list.js';
import { AmendDescription, Code, Corrections, LossNotice, Where } from './description.js';

const concerns = ofKind('leaf', 'disc', 'custody', 'sample_loss', 'sample_amendment', 'amendment');

/** One plant, its description with corrections, and its leaves. */
export function PlantScreen() {
  const { id = '' } = useParams();
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const { data, error, refetch } = useQuery(PlantPage, { variables: { id } });
  useLive(() => refetch(), concerns);
  const again = () => void refetch();
  const back = <Back to="/samples/plants">Plants and leaves</Back>;
  if (!data) return <Page title="Plant" margin={back}><Strip>{error ? <Failed what="this plant" again={again} /> : <Waiting what="the plant" />}</Strip></Page>;
  const { plant } = data;
  if (!plant) return <Page title="Plant" margin={back}><Strip><Empty title="No plant of this lab has this address." /></Strip></Page>;
  return (
    <Page title={`Plant ${plant.label}`} margin={back} lead={plant.crop.name} actions={
      <>
        <ActionLink to={threadPath('plant', plant.id, 'up')}>Thread up</ActionLink>
        <ActionLink to={`/samples/labels?kind=PLANT&ids=${plant.id}`}>Print label</ActionLink>
        {mayRecord ? <ActionLink to={`/samples/record?plants=${plant.id}`} kind="strong">Record leaves</ActionLink> : null}
      </>
    }>
      <Strip>
        <LossNotice what={`Plant ${plant.label}`} loss={plant.loss} mayRetract={mayRecord} onFound={again} />
        <Facts rows={[
          { name: 'Code', value: <Code>{plant.code}</Code> },
          { name: 'Cultivar', value: plant.cultivar ?? 'not told' },
          { name: 'Treatment', value: plant.treatment ?? 'not told' },
          plant.mother ? { name: 'Taken from', value: <Link to={`/samples/plant/${plant.mother.id}`}>{plant.mother.label}</Link> } : null,
          { name: 'Where', value: <Where custody={plant.custody} /> },
          { name: 'Recorded', value: <><Moment at={plant.recordedAt} /> by {plant.recordedBy.displayName}</> },
        ]} />
        {mayRecord ? <div><AmendDescription kind="PLANT" id={plant.id} label={`plant ${plant.label}`} standing={{ cultivar: plant.cultivar, treatment: plant.treatment }} onAmended={again} /></div> : null}
        <Corrections amendments={plant.amendments} />
      </Strip>
      <Section title="Leaves">
        {plant.leaves.length === 0 ? <Empty title="No leaf of this plant has been recorded yet." /> : (
          <Table caption={`Leaves of plant ${plant.label}`} rows={plant.leaves} keyOf={(leaf) => leaf.id} columns={[
            { head: 'Leaf', cell: (leaf) => <Link to={`/samples/leaf/${leaf.id}`}>{leaf.label}</Link> },
            { head: 'Position', cell: (leaf) => leaf.position ?? '' },
            { head: 'Growth stage', cell: (leaf) => leaf.growthStage ?? '' },
            { head: 'Discs', number: true, cell: (leaf) => leaf.discs.length },
          ]} />
        )}
      </Section>
      <CustodySection subject={{ kind: 'plant', id: plant.id, label: plant.label }} gone={plant.loss !== null} onChanged={again} />
    </Page>
  );
}
