import { NetworkStatus } from '@apollo/client';
import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link, useNavigate } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { CertificateTableQuery, DeviceUnitTableQuery } from '../../../generated/graphql.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { ChoiceField, TextField } from '../../../ui/fields.js';
import { useLive } from '../../../ui/live.js';
import { Page, Section } from '../../../ui/page.js';
import { Rwc, rwcInterval } from '../../../ui/quantity.js';
import { More, SearchBar, SearchField, useInAddress } from '../../../ui/search.js';
import { usePayload } from '../../../ui/send.js';
import { ApprovalMark, DeviceUnitMark, StaleMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Action, ActionLink, Dialog, Empty, Failed, Waiting } from '../../../ui/words.js';
import { CertificateTable, DeviceLotChoices, DeviceUnitTable, RegisterDeviceLot, RegisterDeviceUnit } from '../documents.js';
import { validityWord } from './validity.js';

type Unit = DeviceUnitTableQuery['deviceUnits']['nodes'][number];
type Certificate = CertificateTableQuery['thresholdCertificates'][number];

const columns = [
  { head: 'Unit', cell: ({ id, label }: Unit) => <Link to={`/devices/${id}`}>{label}</Link> },
  { head: 'Lot', cell: ({ lot }: Unit) => <Link to={`/devices/lot/${lot.id}`}>{lot.label}</Link> },
  { head: 'State', cell: ({ state }: Unit) => <DeviceUnitMark state={state} /> },
  { head: 'Curve', cell: ({ curve }: Unit) => (curve ? <>pull-in {curve.pullInV.toFixed(2)} V{curve.stale ? <><br /><StaleMark /></> : null}</> : 'not fitted') },
  { head: 'Certificate', cell: ({ certificates: [newest] }: Unit) => (newest ? <Link to={`/devices/certificate/${newest.id}`}>{newest.biasV} V for <Rwc value={newest.targetRwc} /></Link> : 'none') },
  { head: 'Installed', cell: ({ installations }: Unit) => installations.filter(({ state }) => state !== 'REMOVED').map(({ id, zone }, index) => <span key={id}>{index > 0 ? ', ' : ''}<Link to={`/field/${id}`}>zone {zone}</Link></span>) },
] as const;

const certificateColumns = [
  { head: 'Certificate', cell: ({ id, deviceUnit }: Certificate) => <Link to={`/devices/certificate/${id}`}>unit {deviceUnit.label}</Link> },
  { head: 'State', cell: ({ state, stale, validity }: Certificate) => <><ApprovalMark state={state} />{stale ? <><br /><StaleMark /></> : null}{state === 'APPROVED' && validity !== 'VALID' ? <><br />{validityWord(validity)}</> : null}</> },
  { head: 'Target RWC', number: true, cell: ({ targetRwc }: Certificate) => <Rwc value={targetRwc} /> },
  { head: 'Trips at RWC, 95 %', number: true, cell: ({ tripRwcLow, tripRwcHigh }: Certificate) => rwcInterval(tripRwcLow, tripRwcHigh) },
  { head: 'Bias, V', number: true, cell: ({ biasV }: Certificate) => biasV },
  { head: 'Valid until', cell: ({ validUntil }: Certificate) => <Moment at={validUntil} /> },
] as const;

/** Units by label, and the certificates of the lab. */
export function UnitsScreen() {
  const mayRegister = useHasRole('FIELD_ENGINEER', 'RESEARCHER', 'MANAGER');
  const [registering, setRegistering] = useState<'lot' | 'unit' | null>(null);
  const [search] = useInAddress('search');
  const { data, previousData, error, refetch, fetchMore, networkStatus } = useQuery(DeviceUnitTable, { variables: { search: search || null }, notifyOnNetworkStatusChange: true });
  const certificates = useQuery(CertificateTable, { variables: {} });
  useLive(() => {
    void refetch();
    void certificates.refetch();
  }, ({ kind }) => ['device_unit', 'device_lot', 'bias_threshold_curve', 'threshold_certificate', 'installation', 'signature', 'amendment'].includes(kind));
  const units = (data ?? previousData)?.deviceUnits;
  const more = () => void fetchMore({
    variables: { search: search || null, after: units?.pageInfo.endCursor ?? null },
    updateQuery: (before, { fetchMoreResult: next }) => ({ deviceUnits: { ...next.deviceUnits, nodes: [...before.deviceUnits.nodes, ...next.deviceUnits.nodes] } }),
  });
  return (
    <Page title="Devices" lead="Each unit has a curve and a bias of its own: a certificate says which bias makes it trip at which RWC, and between which it will really trip."
      actions={<><ActionLink to="/devices/light">Light references</ActionLink>{mayRegister ? <><Action kind="plain" onClick={() => setRegistering('lot')}>Register a lot</Action><Action onClick={() => setRegistering('unit')}>Register a unit</Action></> : null}</>}>
      <Section title="Units">
        <SearchBar><SearchField label="Find a unit" hint="Any part of its label" /></SearchBar>
        {!units ? (error ? <Failed what="the units" again={() => void refetch()} /> : <Waiting what="the units" />) : null}
        {units?.nodes.length === 0 ? <Empty title={search ? 'No unit fits this search.' : 'No unit is registered yet.'}>{search ? <Link to="/devices">Show all units</Link> : <p>Register the lot that came in, then its units.</p>}</Empty> : null}
        {units && units.nodes.length > 0 ? (
          <>
            <Table caption="Device units" columns={columns} rows={units.nodes} keyOf={({ id }) => id} />
            <More shown={units.nodes.length === 1 ? '1 unit' : `${units.nodes.length} units`} hasMore={units.pageInfo.hasNextPage} more={more} waiting={networkStatus === NetworkStatus.fetchMore} />
          </>
        ) : null}
      </Section>
      {certificates.data && certificates.data.thresholdCertificates.length > 0
        ? <Section title="Certificates"><Table caption="Certificates, newest first" columns={certificateColumns} rows={certificates.data.thresholdCertificates} keyOf={({ id }) => id} /></Section>
        : null}
      <LotDialog opened={registering === 'lot'} onClose={() => setRegistering(null)} />
      <UnitDialog opened={registering === 'unit'} onClose={() => setRegistering(null)} />
    </Page>
  );
}

interface DialogProps {
  readonly opened: boolean;
  readonly onClose: () => void;
}

const emptyLot = { label: '' };

function LotDialog({ opened, onClose }: DialogProps) {
  const send = usePayload();
  const navigate = useNavigate();
  const entry = useEntry({ initial: emptyLot, send: ({ label }, id) => send(RegisterDeviceLot, { input: { id, label: label.trim() } }), onRecorded: ({ deviceLot }) => void (deviceLot && navigate(`/devices/lot/${deviceLot.id}`)) });
  return (
    <Dialog title="Register a lot" opened={opened} onClose={onClose}>
      <EntryForm entry={entry} action="Register lot" onCancel={onClose}><TextField {...entry.field('label')} label="Label" hint="As on the delivery" autoFocus /></EntryForm>
    </Dialog>
  );
}

const emptyUnit = { label: '', lotId: '' };

function UnitDialog({ opened, onClose }: DialogProps) {
  const send = usePayload();
  const navigate = useNavigate();
  const lots = useQuery(DeviceLotChoices, { skip: !opened, fetchPolicy: 'cache-and-network' });
  const entry = useEntry({
    initial: emptyUnit,
    send: ({ label, lotId }, id) => send(RegisterDeviceUnit, { input: { id, label: label.trim(), lotId: lotId || (lots.data?.deviceLots[0]?.id ?? '') } }),
    onRecorded: ({ deviceUnit }) => void (deviceUnit && navigate(`/devices/${deviceUnit.id}`)),
  });
  return (
    <Dialog title="Register a unit" opened={opened} onClose={onClose}>
      {lots.data?.deviceLots.length === 0 ? <Empty title="No lot is registered yet."><p>A unit belongs to a lot: register the lot first.</p></Empty> : (
        <EntryForm entry={entry} action="Register unit" onCancel={onClose} disabled={!lots.data}>
          <TextField {...entry.field('label')} label="Label" hint="As on the unit" autoFocus />
          <ChoiceField {...entry.field('lotId')} label="Lot" choices={(lots.data?.deviceLots ?? []).map(({ id, label }) => ({ value: id, label }))} />
        </EntryForm>
      )}
    </Dialog>
  );
}
