import { NetworkStatus } from '@apollo/client';
import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { DiscTableQuery } from '../../../generated/graphql.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Page, Section } from '../../../ui/page.js';
import { More, NarrowField, SearchBar, SearchField, useInAddress } from '../../../ui/search.js';
import { StaleMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Action, ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { CropList, DiscTable } from '../documents.js';
import { DiscDialog } from './record-disc.js';

type Disc = DiscTableQuery['discs']['nodes'][number];

const PAGE = 50;
const concerns = ofKind('crop', 'leaf', 'disc', 'rwc_series', 'stale_mark');

const columns = [
  { head: 'Disc', cell: (disc: Disc) => <Link to={`/samples/disc/${disc.id}`}>{disc.label}</Link> },
  { head: 'Crop', cell: (disc: Disc) => disc.leaf.plant.crop.name },
  { head: 'Plant', cell: (disc: Disc) => <>{disc.leaf.plant.label}{disc.leaf.plant.cultivar ? `, ${disc.leaf.plant.cultivar}` : ''}</> },
  { head: 'Leaf', cell: (disc: Disc) => <Link to={`/samples/leaf/${disc.leaf.id}`}>{disc.leaf.label}</Link> },
  { head: 'Punch, mm', number: true, cell: (disc: Disc) => disc.diameterMm ?? 'whole leaf' },
  { head: 'RWC series', cell: (disc: Disc) => (disc.rwcSeries ? (disc.rwcSeries.stale ? <StaleMark /> : 'computed') : 'none yet') },
] as const;

/** The table of discs: searched, narrowed and paged by the server, its state in the address. */
export function DiscsScreen() {
  const [search] = useInAddress('search');
  const [cropId] = useInAddress('crop');
  const [recording, setRecording] = useState(false);
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const crops = useQuery(CropList);
  const variables = { first: PAGE, search: search || null, cropId: cropId || null };
  const { data, previousData, error, refetch, fetchMore, networkStatus } = useQuery(DiscTable, { variables, notifyOnNetworkStatusChange: true });
  useLive(() => refetch(), concerns);
  // What was found before stays in sight until the next answer is here.
  const discs = (data ?? previousData)?.discs;
  const more = () => void fetchMore({
    variables: { after: discs?.pageInfo.endCursor ?? null },
    updateQuery: (before, { fetchMoreResult: next }) => ({ discs: { ...next.discs, nodes: [...before.discs.nodes, ...next.discs.nodes] } }),
  });
  return (
    <Page title="Samples" lead="Crop, plant, leaf, disc. The leaf is the unit of statistics, the disc the thing weighed." actions={
      <>
        <ActionLink to="/samples/plants">Plants and leaves</ActionLink>
        {mayRecord ? <Action onClick={() => setRecording(true)}>Record a disc</Action> : null}
      </>
    }>
      <Section title="Discs">
        <SearchBar>
          <SearchField label="Find a disc" hint="Any part of its label" />
          <NarrowField name="crop" label="Crop" all="All crops" choices={(crops.data?.crops ?? []).map((crop) => ({ value: crop.id, label: crop.name }))} />
        </SearchBar>
        {!discs && error ? <Failed what="the discs" again={() => void refetch()} /> : null}
        {!discs && !error ? <Waiting what="the discs" /> : null}
        {discs?.nodes.length === 0 ? (
          <Empty title={search || cropId ? 'No disc fits this search.' : 'No disc has been recorded yet.'}>
            {search || cropId ? <Link to="/samples">Show all discs</Link> : <p><Link to="/samples/plants">Record a plant and its leaf first</Link>, then its discs, or <Link to="/import">import a drying series</Link>.</p>}
          </Empty>
        ) : null}
        {discs && discs.nodes.length > 0 ? (
          <>
            <Table caption="Discs, newest first" columns={columns} rows={discs.nodes} keyOf={(disc) => disc.id} />
            <More shown={`${discs.nodes.length} of ${discs.totalCount} discs`} hasMore={discs.pageInfo.hasNextPage} more={more} waiting={networkStatus === NetworkStatus.fetchMore} />
          </>
        ) : null}
      </Section>
      <DiscDialog opened={recording} onClose={() => setRecording(false)} />
    </Page>
  );
}
