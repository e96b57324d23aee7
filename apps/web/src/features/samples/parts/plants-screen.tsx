import { NetworkStatus } from '@apollo/client';
import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { PlantTableQuery } from '../../../generated/graphql.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Line, Lines, Page, Section } from '../../../ui/page.js';
import { More, SearchBar, SearchField, useInAddress } from '../../../ui/search.js';
import { Action, Empty, Failed, Waiting } from '../../../ui/words.js';
import { PlantTable } from '../documents.js';
import { CropDialog, LeafDialog, PlantDialog } from './record-plant.js';

type Plant = PlantTableQuery['plants']['nodes'][number];
type Opened = 'crop' | 'plant' | Plant | null;

const concerns = ofKind('plant', 'leaf', 'disc');

/** Plants with their leaves, newest first. */
export function PlantsScreen() {
  const mayRecordCrop = useHasRole('RESEARCHER', 'MANAGER');
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const [search] = useInAddress('search');
  const [opened, setOpened] = useState<Opened>(null);
  const { data, previousData, error, refetch, fetchMore, networkStatus } = useQuery(PlantTable, { variables: { first: 50, search: search || null }, notifyOnNetworkStatusChange: true });
  useLive(() => refetch(), concerns);
  const plants = (data ?? previousData)?.plants;
  const close = () => setOpened(null);
  const recorded = () => {
    close();
    void refetch();
  };
  const more = () => void fetchMore({
    variables: { after: plants?.pageInfo.endCursor ?? null },
    updateQuery: (before, { fetchMoreResult: next }) => ({ plants: { ...next.plants, nodes: [...before.plants.nodes, ...next.plants.nodes] } }),
  });
  return (
    <Page title="Plants and leaves" margin={<Back to="/samples">Samples</Back>} actions={
      <>
        {mayRecordCrop ? <Action kind="plain" onClick={() => setOpened('crop')}>Record a crop</Action> : null}
        {mayRecord ? <Action onClick={() => setOpened('plant')}>Record a plant</Action> : null}
      </>
    }>
      <Section title="Plants">
        <SearchBar><SearchField label="Find a plant" hint="Any part of label, id, cultivar or treatment" /></SearchBar>
        {!plants && error ? <Failed what="the plants" again={() => void refetch()} /> : null}
        {!plants && !error ? <Waiting what="the plants" /> : null}
        {plants?.nodes.length === 0 ? <Empty title={search ? 'No plant fits this search.' : 'No plant has been recorded yet.'}><p>Record its crop first, then the plant, then a leaf of it.</p></Empty> : null}
        {plants && plants.nodes.length > 0 ? (
          <>
            <Lines label="Plants">{plants.nodes.map((plant) => <PlantLine key={plant.id} plant={plant} onLeaf={mayRecord ? () => setOpened(plant) : undefined} />)}</Lines>
            <More shown={`${plants.nodes.length} plants`} hasMore={plants.pageInfo.hasNextPage} more={more} waiting={networkStatus === NetworkStatus.fetchMore} />
          </>
        ) : null}
      </Section>
      <CropDialog opened={opened === 'crop'} onClose={close} onRecorded={recorded} />
      <PlantDialog opened={opened === 'plant'} onClose={close} onRecorded={recorded} />
      <LeafDialog plant={typeof opened === 'object' ? opened : null} onClose={close} onRecorded={recorded} />
    </Page>
  );
}

function PlantLine({ plant, onLeaf }: { readonly plant: Plant; readonly onLeaf: (() => void) | undefined }) {
  const facts = [plant.crop.name, plant.cultivar, plant.treatment].filter(Boolean).join(', ');
  return (
    <Line margin={<Link to={`/samples/plant/${plant.id}`}>{plant.label}</Link>}>
      <span>{facts}</span>
      {plant.leaves.length === 0 ? <span>No leaf yet.</span> : (
        <ul>
          {plant.leaves.map((leaf) => (
            <li key={leaf.id}>
              <Link to={`/samples/leaf/${leaf.id}`}>Leaf {leaf.label}</Link>
              {[leaf.position, leaf.growthStage].filter(Boolean).map((fact) => `, ${fact}`)}: {leaf.discs.length === 1 ? '1 disc' : `${leaf.discs.length} discs`}
            </li>
          ))}
        </ul>
      )}
      {onLeaf ? <div><Action kind="quiet" onClick={onLeaf}>Record a leaf of {plant.label}</Action></div> : null}
    </Line>
  );
}
