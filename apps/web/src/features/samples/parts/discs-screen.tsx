import { NetworkStatus } from '@apollo/client';
import { useQuery } from '@apollo/client/react';
import { useCallback, useState } from 'react';
import { Link, useNavigate } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { DiscPresence, DiscSort, DiscTableQuery } from '../../../generated/graphql.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { LongTable, useSort } from '../../../ui/long-table.js';
import { Page, Section } from '../../../ui/page.js';
import { recordPath } from '../../../ui/paths.js';
import { ScanField } from '../../../ui/scan-field.js';
import { NarrowField, SearchBar, SearchField, useInAddress } from '../../../ui/search.js';
import { StaleMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { Action, ActionLink, Dialog, Empty, Failed, Waiting } from '../../../ui/words.js';
import { CropList, DiscTable, PlaceTree, WordsOfSamples } from '../documents.js';
import { LossMark, whereText } from './description.js';
import { LossEntry } from './loss.js';
import { MoveEntry } from './move.js';
import { placeName } from './place-words.js';
import { DiscDialog } from './record-disc.js';
import styles from './samples.module.css';

type Disc = DiscTableQuery['discs']['nodes'][number];

const PAGE = 100;
const concerns = ofKind('crop', 'leaf', 'disc', 'rwc_series', 'stale_mark', 'custody', 'sample_loss', 'sample_amendment', 'amendment');
const sorts: readonly string[] = ['LABEL', 'PLANT', 'CULTIVAR', 'TREATMENT', 'GROWTH_STAGE', 'CUT'] satisfies DiscSort[];

const columns = [
  { head: 'Disc', sort: 'LABEL', cell: (disc: Disc) => <><Link to={`/samples/disc/${disc.id}`}>{disc.label}</Link> {disc.loss ? <LossMark outcome={disc.loss.outcome} /> : null}</> },
  { head: 'Crop', cell: (disc: Disc) => disc.leaf.plant.crop.name },
  { head: 'Cultivar', sort: 'CULTIVAR', cell: (disc: Disc) => disc.leaf.plant.cultivar ?? '' },
  { head: 'Treatment', sort: 'TREATMENT', cell: (disc: Disc) => disc.leaf.plant.treatment ?? '' },
  { head: 'Leaf', sort: 'PLANT', cell: (disc: Disc) => <Link to={`/samples/leaf/${disc.leaf.id}`}>{disc.leaf.label}</Link> },
  { head: 'Stage', sort: 'GROWTH_STAGE', cell: (disc: Disc) => disc.leaf.growthStage ?? '' },
  { head: 'Cut', sort: 'CUT', cell: (disc: Disc) => (disc.leaf.cutAt ? <Moment at={disc.leaf.cutAt} /> : '') },
  { head: 'Where', cell: (disc: Disc) => whereText(disc.custody) },
  { head: 'RWC', cell: (disc: Disc) => (disc.rwcSeries ? (disc.rwcSeries.stale ? <StaleMark /> : 'computed') : 'none yet') },
] as const;

const choicesOf = (words: readonly string[] | undefined) => (words ?? []).map((word) => ({ value: word, label: word }));
const presences: readonly { value: DiscPresence; label: string }[] = [{ value: 'PRESENT', label: 'Present' }, { value: 'LOST', label: 'Lost' }, { value: 'DESTROYED', label: 'Destroyed' }];

function useDiscs() {
  const [search] = useInAddress('search');
  const [cropId] = useInAddress('crop');
  const [cultivar] = useInAddress('cultivar');
  const [treatment] = useInAddress('treatment');
  const [growthStage] = useInAddress('stage');
  const [presence] = useInAddress('presence');
  const [placeId] = useInAddress('place');
  const { sort, descending } = useSort();
  const filter = {
    cultivar: cultivar || null, treatment: treatment || null, growthStage: growthStage || null, placeId: placeId || null,
    presence: presences.find(({ value }) => value === presence)?.value ?? null,
  };
  const variables = { first: PAGE, search: search || null, cropId: cropId || null, filter, sort: (sorts.includes(sort) ? sort : 'NEWEST') as DiscSort, descending };
  const asked = useQuery(DiscTable, { variables, notifyOnNetworkStatusChange: true });
  const narrowed = Boolean(search || cropId || Object.values(filter).some(Boolean));
  return { ...asked, narrowed };
}

/** The table of discs: searched, narrowed, sorted and paged by the server, its state in the address. */
export function DiscsScreen() {
  const navigate = useNavigate();
  const [opened, setOpened] = useState<'record' | 'move' | 'loss' | null>(null);
  const [chosen, setChosen] = useState<ReadonlyMap<string, string>>(new Map());
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const crops = useQuery(CropList);
  const words = useQuery(WordsOfSamples);
  const places = useQuery(PlaceTree);
  const { data, previousData, error, refetch, fetchMore, networkStatus, narrowed } = useDiscs();
  useLive(() => refetch(), concerns);
  // What was found before stays in sight until the next answer is here.
  const discs = (data ?? previousData)?.discs;
  const cursor = discs?.pageInfo.endCursor ?? null;
  const more = useCallback(() => void fetchMore({
    variables: { after: cursor },
    updateQuery: (before, { fetchMoreResult: next }) => ({ discs: { ...next.discs, nodes: [...before.discs.nodes, ...next.discs.nodes] } }),
  }), [fetchMore, cursor]);
  const choose = (id: string, on: boolean) => setChosen((before) => {
    const next = new Map(before);
    if (on) next.set(id, discs?.nodes.find((disc) => disc.id === id)?.label ?? id);
    else next.delete(id);
    return next;
  });
  const done = () => {
    setOpened(null);
    setChosen(new Map());
    void refetch();
  };
  const subjects = [...chosen].map(([id, label]) => ({ kind: 'disc' as const, id, label }));
  return (
    <Page title="Samples" lead="Crop, plant, leaf, disc. The leaf is the unit of statistics, the disc the thing weighed." actions={
      <>
        <ActionLink to="/samples/plants">Plants and leaves</ActionLink>
        <ActionLink to="/samples/places">Places</ActionLink>
        <ActionLink to="/samples/labels">Labels</ActionLink>
        {mayRecord ? <ActionLink to="/samples/record" kind="strong">Record samples</ActionLink> : null}
      </>
    }>
      <Section title="Discs" actions={mayRecord ? <Action kind="plain" onClick={() => setOpened('record')}>Record one disc</Action> : null}>
        <ScanField label="Scan to open" kinds={['disc', 'leaf', 'plant', 'place']} onFound={({ kind, id }) => void navigate(recordPath(kind, id))} />
        <SearchBar>
          <SearchField label="Find a disc" hint="Any part of its label or id" />
          <NarrowField name="crop" label="Crop" all="All crops" choices={(crops.data?.crops ?? []).map((crop) => ({ value: crop.id, label: crop.name }))} />
          <NarrowField name="cultivar" label="Cultivar" all="All cultivars" choices={choicesOf(words.data?.sampleWords.cultivars)} />
          <NarrowField name="treatment" label="Treatment" all="All treatments" choices={choicesOf(words.data?.sampleWords.treatments)} />
          <NarrowField name="stage" label="Growth stage" all="All stages" choices={choicesOf(words.data?.sampleWords.growthStages)} />
          <NarrowField name="place" label="Place" all="Anywhere" choices={(places.data?.places ?? []).filter(({ placeKind }) => placeKind !== 'POSITION').map((place) => ({ value: place.id, label: placeName(place) }))} />
          <NarrowField name="presence" label="Presence" all="Present or not" choices={presences} />
        </SearchBar>
        {!discs && error ? <Failed what="the discs" again={() => void refetch()} /> : null}
        {!discs && !error ? <Waiting what="the discs" /> : null}
        {discs?.nodes.length === 0 ? (
          <Empty title={narrowed ? 'No disc fits this search.' : 'No disc has been recorded yet.'}>
            {narrowed ? <Link to="/samples">Show all discs</Link> : <p><Link to="/samples/record">Record plants, leaves and discs</Link>, or <Link to="/import">import a drying series</Link>.</p>}
          </Empty>
        ) : null}
        {discs && discs.nodes.length > 0 ? (
          <LongTable caption="Discs" columns={columns} rows={discs.nodes} keyOf={(disc) => disc.id} nameOf={(disc) => disc.label} totalCount={discs.totalCount}
            hasMore={discs.pageInfo.hasNextPage} more={more} waiting={networkStatus === NetworkStatus.fetchMore} struck={(disc) => disc.loss !== null}
            chosen={new Set(chosen.keys())} {...(mayRecord ? { onChoose: choose } : {})} />
        ) : null}
        {chosen.size > 0 ? (
          <div className={styles.chosen} role="region" aria-label="Chosen discs">
            <strong>{chosen.size === 1 ? '1 disc chosen' : `${chosen.size} discs chosen`}</strong>
            <Action onClick={() => void navigate(`/samples/labels?kind=DISC&ids=${[...chosen.keys()].join(',')}`)}>Print labels</Action>
            <Action kind="plain" onClick={() => setOpened('move')}>Move</Action>
            <Action kind="plain" onClick={() => setOpened('loss')}>Lost or destroyed</Action>
            <Action kind="quiet" onClick={() => setChosen(new Map())}>Choose none</Action>
          </div>
        ) : null}
      </Section>
      <DiscDialog opened={opened === 'record'} onClose={() => setOpened(null)} onRecorded={() => void refetch()} />
      <Dialog title={`Move ${chosen.size === 1 ? 'a disc' : `${chosen.size} discs`}`} opened={opened === 'move'} onClose={() => setOpened(null)}><MoveEntry subjects={subjects} onClose={() => setOpened(null)} onMoved={done} /></Dialog>
      <Dialog title="Lost or destroyed" opened={opened === 'loss'} onClose={() => setOpened(null)}><LossEntry subjects={subjects} onClose={() => setOpened(null)} onRecorded={done} /></Dialog>
    </Page>
  );
}
