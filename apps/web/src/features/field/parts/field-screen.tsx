import { NetworkStatus } from '@apollo/client';
import { useQuery } from '@apollo/client/react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { FieldOverviewQuery, ZoneListQuery } from '../../../generated/graphql.js';
import { forOffline } from '../../../offline/stored-reads.js';
import { AsOf } from '../../../ui/as-of.js';
import { useLive } from '../../../ui/live.js';
import { Lines, Page, Section, Strip } from '../../../ui/page.js';
import { Rwc } from '../../../ui/quantity.js';
import { More, NarrowField, SearchBar, useInAddress } from '../../../ui/search.js';
import { ApprovalMark, InstallationMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { FieldEvents, FieldOverview } from '../documents.js';
import { ZoneList } from '../zone-documents.js';
import { ZONE_KINDS } from './zone-screen.js';
import { TakeAlong } from './take-along.js';
import { DecisionLine, IrrigationCaution, NoValve, TripLine } from './field-words.js';

type Zone = ZoneListQuery['zones'][number];
type Installation = FieldOverviewQuery['installations']['nodes'][number];

const columns = [
  { head: 'Unit', cell: ({ id, deviceUnit }: Installation) => <Link to={`/field/${id}`}>{deviceUnit.label}</Link> },
  { head: 'State', cell: ({ state }: Installation) => <InstallationMark state={state} /> },
  { head: 'Where', cell: ({ site, plantNote }: Installation) => `${site}, ${plantNote}` },
  { head: 'Target RWC', number: true, cell: ({ certificate }: Installation) => <Rwc value={certificate.targetRwc} /> },
  { head: 'Bias, V', number: true, cell: ({ biasReadbackV, overrideReason }: Installation) => <>{biasReadbackV}{overrideReason ? <><br /><small>overridden</small></> : null}</> },
  { head: 'Certificate', cell: ({ certificate }: Installation) => <Link to={`/devices/certificate/${certificate.id}`} aria-label={`Certificate, ${certificate.state.toLowerCase()}`}><ApprovalMark state={certificate.state} /></Link> },
  { head: 'Armed', cell: ({ armedAt }: Installation) => <Moment at={armedAt} /> },
] as const;

const order = { TRIPPED: 0, ARMED: 1, REMOVED: 2 } as const;
const byZone = (installations: readonly Installation[]): readonly (readonly [string, readonly Installation[]])[] => {
  const zones = [...new Set(installations.map(({ zone }) => zone))].sort((a, b) => a.localeCompare(b, undefined, { numeric: true }));
  return zones.map((zone) => [zone, installations.filter((each) => each.zone === zone).sort((a, b) => order[a.state] - order[b.state])]);
};

/** What tripped and awaits a decision, then what sits where, zone by zone. */
export function FieldScreen() {
  const mayRecord = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  const [zone] = useInAddress('zone');
  const { data, previousData, error, refetch, fetchMore, networkStatus } = useQuery(FieldOverview, { variables: { zone: zone || null }, notifyOnNetworkStatusChange: true, context: forOffline });
  const events = useQuery(FieldEvents, { context: forOffline });
  useLive(() => {
    void refetch();
    void events.refetch();
  }, ({ kind }) => ['installation', 'trip', 'decision', 'signature', 'amendment'].includes(kind));
  const page = (data ?? previousData)?.installations;
  const zones = byZone(page?.nodes ?? []);
  const more = () => void fetchMore({
    variables: { zone: zone || null, after: page?.pageInfo.endCursor ?? null },
    updateQuery: (before, { fetchMoreResult: next }) => ({ installations: { ...next.installations, nodes: [...before.installations.nodes, ...next.installations.nodes] } }),
  });
  const open = events.data?.trips.nodes.filter(({ decisions, amendedBy }) => decisions.length === 0 && !amendedBy) ?? [];
  return (
    <Page title="Field" lead={<NoValve />} actions={mayRecord ? <><ActionLink to="/field/install">Install a unit</ActionLink><ActionLink kind="strong" to="/field/decide">Record a decision</ActionLink></> : null}>
      <AsOf document={FieldOverview} variables={{ zone: zone || null }} />
      <ZoneSection />
      <Section title="Tripped, not decided yet" actions={<Link to="/field/decisions">All decisions</Link>}>
        {!events.data ? (events.error ? <Failed what="the trips" again={() => void events.refetch()} /> : <Waiting what="the trips" />) : null}
        {events.data && open.length === 0 ? <Empty title="No trip awaits a decision."><p>Silence is not a reading: a unit that is spoilt or without bias is silent too.</p></Empty> : null}
        {open.length > 0 ? <Lines label="Trips without a decision">{open.map((trip) => <TripLine key={trip.id} trip={trip} />)}</Lines> : null}
      </Section>
      {!page ? <Strip>{error ? <Failed what="the installations" again={() => void refetch()} /> : <Waiting what="the installations" />}</Strip> : null}
      {page && (zones.length > 1 || zone) ? <Strip><SearchBar><NarrowField name="zone" label="Zone" all="All zones" choices={[...new Set([...(zone ? [zone] : []), ...zones.map(([name]) => name)])].map((name) => ({ value: name, label: `Zone ${name}` }))} /></SearchBar></Strip> : null}
      {page?.nodes.length === 0 ? <Strip><Empty title={zone ? `Nothing is installed in zone ${zone}.` : 'Nothing is installed yet.'}><p>A unit with an approved certificate is installed under a leaf, its bias read back.</p></Empty></Strip> : null}
      {zones.map(([name, installations]) => (
        <Section key={name} title={`Zone ${name}`} margin={`${installations.length} ${installations.length === 1 ? 'unit' : 'units'}`}>
          <Table caption={`Installations in zone ${name}`} columns={columns} rows={installations} keyOf={({ id }) => id} />
        </Section>
      ))}
      {page && page.nodes.length > 0 ? <Strip><More shown={`${page.nodes.length} ${page.nodes.length === 1 ? 'installation' : 'installations'}`} hasMore={page.pageInfo.hasNextPage} more={more} waiting={networkStatus === NetworkStatus.fetchMore} /></Strip> : null}
      {events.data && events.data.decisions.nodes.length > 0 ? (
        <Section title="Last decisions" actions={<Link to="/field/decisions">All decisions</Link>}><Lines label="Last decisions">{events.data.decisions.nodes.map((decision) => <DecisionLine key={decision.id} decision={decision} />)}</Lines></Section>
      ) : null}
      {mayRecord && page ? <Section title="Without network"><TakeAlong installationIds={page.nodes.filter(({ state }) => state !== 'REMOVED').map(({ id }) => id)} /></Section> : null}
      <Strip><IrrigationCaution /></Strip>
    </Page>
  );
}

const zoneColumns = [
  { head: 'Zone', cell: ({ name }: Zone) => <Link to={`/field/zone/${encodeURIComponent(name)}`}>{name}</Link> },
  { head: 'Site', cell: ({ site }: Zone) => site },
  { head: 'Units', number: true, cell: ({ installed }: Zone) => installed },
  { head: 'Tripped', number: true, cell: ({ tripped }: Zone) => tripped },
  { head: 'Silent', number: true, cell: ({ silent }: Zone) => silent },
  { head: 'Rule', cell: ({ rule }: Zone) => (rule ? `version ${rule.version}` : 'none approved') },
] as const;

/** The zones at a glance, and the ways to the map and to what field checks say. */
function ZoneSection() {
  const { data, error, refetch } = useQuery(ZoneList);
  useLive(() => refetch(), ({ kind }) => ZONE_KINDS.includes(kind));
  return (
    <Section title="Zones" actions={<><Link to="/field/map">Map</Link><Link to="/field/agreement">Stated and realised</Link></>}>
      {!data ? (error ? <Failed what="the zones" again={() => void refetch()} /> : <Waiting what="the zones" />) : null}
      {data?.zones.length === 0 ? <Empty title="No zone has a unit yet." /> : null}
      {data && data.zones.length > 0 ? <Table caption="Zones" columns={zoneColumns} rows={data.zones} keyOf={({ name }) => name} /> : null}
    </Section>
  );
}
