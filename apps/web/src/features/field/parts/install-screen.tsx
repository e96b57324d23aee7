import { useApolloClient, useQuery } from '@apollo/client/react';
import { useMemo, useState } from 'react';
import { Link, useSearchParams } from 'react-router';
import type { LeafSide, RecordInstallationInput, UnitToInstallQuery } from '../../../generated/graphql.js';
import { RecordInstallation } from '../../../offline/documents.js';
import { useOnScreen, useOutbox } from '../../../offline/outbox.js';
import { isLost } from '../../../offline/reach.js';
import { asSent } from '../../../offline/recording.js';
import type { Written } from '../../../offline/recording.js';
import { forOffline } from '../../../offline/stored-reads.js';
import { AsOf } from '../../../ui/as-of.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import type { Entry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, MomentField, NumberField, SegmentField, TextField } from '../../../ui/fields.js';
import { FileField } from '../../../ui/file-field.js';
import { Back, Page, Section } from '../../../ui/page.js';
import { Rwc } from '../../../ui/quantity.js';
import { ScanField } from '../../../ui/scan-field.js';
import { payloadOf } from '../../../ui/send.js';
import type { FlagSeen, Sent } from '../../../ui/send.js';
import { ApprovalMark, StaleMark } from '../../../ui/state.js';
import { localInput, Moment, momentFromInput } from '../../../ui/time.js';
import { Action, Caution, Flags, Notice } from '../../../ui/words.js';
import { UnitChoices, UnitsToTake, UnitToInstall } from '../documents.js';
import { objectionsHere } from './arming.js';
import styles from './field.module.css';
import { leafSideWords } from './field-words.js';
import { useTaken } from './take-along.js';

type Certificate = NonNullable<UnitToInstallQuery['deviceUnit']>['certificates'][number];

const usable = ({ state }: Certificate): boolean => state !== 'WITHDRAWN' && state !== 'SUPERSEDED';
const certificateLabel = ({ biasV, state, stale }: Certificate): string => `${biasV} V, ${state.toLowerCase()}${stale ? ', stale' : ''}`;

const scannable = (kind: string) => ({ id, label }: { readonly id: string; readonly label: string }) => ({ kind, id, label });

/** A unit under a leaf: which, where, and the bias read back at the unit, checked against its certificate. */
export function InstallScreen() {
  const [params] = useSearchParams();
  const [search, setSearch] = useState('');
  const [objections, setObjections] = useState<readonly FlagSeen[]>([]);
  const [mayOverride, setMayOverride] = useState(false);
  const [installed, setInstalled] = useState<{ readonly id: string; readonly unit: string; readonly kept: boolean } | null>(null);
  const [plant, setPlant] = useState<{ readonly id: string; readonly label: string } | null>(null);
  const [initial] = useState(() => ({
    deviceUnitId: params.get('unit') ?? '', certificateId: params.get('certificate') ?? '', site: '', zone: '', plantNote: '', leafSide: 'ADAXIAL_UP',
    tiltDeg: '', latitude: '', longitude: '', biasReadbackV: '', armedAt: localInput(new Date()), overrideReason: '', photoFileId: '',
  }));
  const install = useInstall();
  const entry = useEntry({
    initial,
    keep: true,
    send: (values, id) => install({
      id, deviceUnitId: values.deviceUnitId, certificateId: certificate?.id ?? values.certificateId, site: values.site.trim(), zone: values.zone.trim(), plantNote: values.plantNote.trim(), leafSide: values.leafSide as LeafSide,
      tiltDeg: orNull(decimalText(values.tiltDeg)), latitude: orNull(decimalText(values.latitude)), longitude: orNull(decimalText(values.longitude)),
      biasReadbackV: decimalText(values.biasReadbackV), armedAt: momentFromInput(values.armedAt), plantId: plant?.id ?? null, overrideReason: mayOverride ? orNull(values.overrideReason) : null, photoFileId: orNull(values.photoFileId),
    }, unit?.label ?? '', certificate),
    onRecorded: ({ kept }) => {
      setInstalled({ id: entry.id, unit: unit?.label ?? '', kept });
      // The next unit goes into the same row as a rule: the place stays, the unit and its bias do not.
      entry.clear({ ...entry.values, deviceUnitId: '', certificateId: '', biasReadbackV: '', plantNote: '', overrideReason: '', photoFileId: '', armedAt: localInput(new Date()) });
      setPlant(null);
      setObjections([]);
      setMayOverride(false);
    },
    onRefused: (problem, payload) => {
      setObjections(payload?.flags ?? []);
      setMayOverride(problem.code === 'OUT_OF_SCOPE');
    },
  });
  useOnScreen(entry.id);
  const override = entry.field('overrideReason');
  const { units, unit, certificate, taken } = useUnit(entry.values.deviceUnitId, entry.values.certificateId, search);
  const choosePlant = (found: { readonly id: string; readonly label: string }) => {
    setPlant(found);
    if (entry.values.plantNote.trim() === '') entry.set('plantNote', found.label);
  };
  return (
    <Page title="Install a unit" margin={<Back to="/field">Field</Back>}>
      <AsOf document={UnitsToTake} />
      <Section title="Unit" lead="Scan its label, or type it; or find it in the list.">
        {installed ? (
          <Notice tone="calm" title={installed.kept ? `Unit ${installed.unit} is kept on this device as installed, not sent yet.` : `Unit ${installed.unit} is installed and armed.`}>
            <Link to={`/field/${installed.id}`}>See it</Link>, or install the next one: the place is kept.
          </Notice>
        ) : null}
        <ScanField label="Scan the unit" kinds={['device_unit']} known={taken.units.map(scannable('device_unit'))} onFound={({ id }) => entry.set('deviceUnitId', id)} />
        {unit ? <p role="status">In the hand: <strong>{unit.label}</strong></p> : null}
      </Section>
      <Section title="Plant" lead="Where it has a label of its own.">
        <ScanField label="Scan the plant" kinds={['plant']} known={taken.plants.map(scannable('plant'))} onFound={choosePlant} />
        {plant ? <p role="status">Under a leaf of <strong>{plant.label}</strong> <Action kind="quiet" onClick={() => setPlant(null)}>Not this plant</Action></p> : null}
      </Section>
      <Section title="Place and bias">
        <Caution title="Bias of tens of volts.">Charge stays in supply and leads after switching off. Electrical work belongs to people authorised for it. Look for people, vehicles and sprayers in the zone first.</Caution>
        <EntryForm entry={entry} action={mayOverride ? 'Install it all the same' : 'Record installation'} label="Record an installation" disabled={entry.values.deviceUnitId === ''}>
          <TextField name="unitSearch" label="Find the unit" hint="Type a part of its label" value={search} onChange={setSearch} problem={null} unmarked />
          <ChoiceField {...entry.field('deviceUnitId')} label="Unit" none="Choose the unit" choices={units.map(({ id, label }) => ({ value: id, label }))} />
          {unit ? <WhatToSet unitId={unit.id} certificates={unit.certificates} certificate={certificate} entry={entry} /> : null}
          <NumberField {...entry.field('biasReadbackV')} label="Bias read back at the unit, V" hint={certificate ? `The certificate says ${certificate.biasV} V` : 'As the meter shows it'} />
          <TextField {...entry.field('site')} label="Site" />
          <TextField {...entry.field('zone')} label="Zone" hint="What is irrigated together" />
          <TextField {...entry.field('plantNote')} label="Plant and leaf" hint="For example row 3, tree 12, third leaf" />
          <SegmentField {...entry.field('leafSide')} label="Leaf above the sensor" choices={Object.entries(leafSideWords).map(([value, label]) => ({ value, label }))} />
          <NumberField {...entry.field('tiltDeg')} label="Tilt, degrees from level" optional />
          <Position entry={entry} />
          <FileField {...entry.field('photoFileId')} label="Photo of the leaf with the unit" purpose="PHOTO" accept="image/*" camera offline optional />
          <MomentField {...entry.field('armedAt')} label="Armed at" />
          {objections.length > 0 ? <div className={styles.whole}><Notice tone="ask" title="This stands against it:"><Flags flags={objections} /><p>Mend it, or say why it is installed all the same. The reason shows in the thread.</p></Notice></div> : null}
          {mayOverride ? <AreaField {...override} problem={override.problem && { ...override.problem, message: '' }} label="Reason for installing it all the same" /> : null}
        </EntryForm>
      </Section>
    </Page>
  );
}

/**
 * Records an installation through the outbox. What this device itself knows to stand against it stops it first, with or
 * without the server; the server, where there is one, then tells all that does.
 */
function useInstall() {
  const client = useApolloClient();
  const outbox = useOutbox();
  return async (input: RecordInstallationInput, label: string, certificate: Certificate | null): Promise<Sent<Written>> => {
    const here = certificate ? objectionsHere(certificate, input.biasReadbackV, input.armedAt) : [];
    if (here.length > 0 && !input.overrideReason) {
      const asked = isLost() ? null : await payloadOf(client, RecordInstallation, { input });
      if (asked?.outcome === 'recorded') return { outcome: 'recorded', payload: { kept: false } };
      if (asked?.outcome === 'refused') return { ...asked, payload: { kept: false, flags: asked.payload?.objections ?? [] } };
      const message = here.map((each) => each.message).join(' ');
      return { outcome: 'refused', payload: { kept: false, flags: here }, problem: { code: 'OUT_OF_SCOPE', field: 'overrideReason', message, remedy: 'Mend it, or give the reason for installing it all the same.' } };
    }
    return asSent(await outbox.record({ kind: 'installation', input }, `Installation of ${label}, zone ${input.zone}, ${input.plantNote}`));
  };
}

/** The units that fit the search, the one chosen (even when it fits no longer), and the certificate to go by: its newest usable one unless another is chosen. */
function useUnit(unitId: string, certificateId: string, search: string) {
  const taken = useTaken();
  const offered = useQuery(UnitChoices, { variables: { search: search.trim() || null } });
  const chosen = useQuery(UnitToInstall, { variables: { id: unitId }, skip: unitId === '', context: forOffline });
  const heldHere = taken.units.find(({ id }) => id === unitId) ?? null;
  const unit = unitId === '' ? null : (chosen.data?.deviceUnit ?? heldHere);
  const asked = search.trim().toLowerCase();
  const nodes = (offered.data ?? offered.previousData)?.deviceUnits.nodes ?? (offered.error ? taken.units.filter(({ label }) => label.toLowerCase().includes(asked)) : undefined);
  const units = useMemo((): readonly { readonly id: string; readonly label: string }[] => {
    const found = nodes ?? [];
    return unit && !found.some(({ id }) => id === unit.id) ? [unit, ...found] : found;
  }, [nodes, unit]);
  const certificates: readonly Certificate[] = unit?.certificates ?? [];
  const certificate = certificates.find(({ id }) => id === certificateId) ?? certificates.find(({ state }) => state === 'APPROVED') ?? certificates.find(usable) ?? null;
  return { units, unit, certificate, taken };
}

interface InstallValues {
  readonly [name: string]: string;
  readonly certificateId: string;
  readonly latitude: string;
  readonly longitude: string;
}

interface WhatToSetProps<V extends InstallValues> {
  readonly unitId: string;
  readonly certificates: readonly Certificate[];
  readonly certificate: Certificate | null;
  readonly entry: Entry<V>;
}

function WhatToSet<V extends InstallValues>({ unitId, certificates, certificate, entry }: WhatToSetProps<V>) {
  const offered = certificates.filter(usable);
  if (!certificate) return <div className={styles.whole}><Notice tone="alarm" title="This unit has no certificate.">Nobody knows at which bias it trips. <Link to={`/devices/${unitId}`}>Issue one first.</Link></Notice></div>;
  return (
    <>
      {offered.length > 1 ? <ChoiceField {...entry.field('certificateId')} value={certificate.id} label="Certificate" choices={offered.map((each) => ({ value: each.id, label: certificateLabel(each) }))} /> : null}
      <div className={styles.bias}>
        <span>Set the bias to</span>
        <strong>{certificate.biasV} V</strong>
        <span>for a target of <Rwc value={certificate.targetRwc} /> RWC, valid until <Moment at={certificate.validUntil} /></span>
        <span><ApprovalMark state={certificate.state} /> {certificate.stale ? <StaleMark /> : null}</span>
      </div>
    </>
  );
}

/** The device's own position, only when asked for; or typed. */
function Position<V extends InstallValues>({ entry }: { readonly entry: Entry<V> }) {
  const [told, setTold] = useState<string | null>(null);
  const ask = () => {
    setTold('Asking for the position…');
    if (!('geolocation' in navigator)) return setTold('This browser gives no position: type it, or leave it empty.');
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        entry.set('latitude', coords.latitude.toFixed(6) as V['latitude']);
        entry.set('longitude', coords.longitude.toFixed(6) as V['longitude']);
        setTold(`Taken from this device, good to about ${Math.round(coords.accuracy)} m.`);
      },
      () => setTold('The position was not given: allow it in the browser, type it, or leave it empty.'),
      { enableHighAccuracy: true, timeout: 20_000 },
    );
  };
  return (
    <>
      <NumberField {...entry.field('latitude')} label="Latitude, degrees" optional />
      <NumberField {...entry.field('longitude')} label="Longitude, degrees" optional />
      <div className={styles.place}><Action kind="plain" onClick={ask}>Take this device’s position</Action><span role="status">{told}</span></div>
    </>
  );
}
