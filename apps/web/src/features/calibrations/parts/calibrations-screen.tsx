import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link, useNavigate } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { CalibrationTableQuery } from '../../../generated/graphql.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { ChoiceField, TextField } from '../../../ui/fields.js';
import { useLive } from '../../../ui/live.js';
import { Page, Section, Strip } from '../../../ui/page.js';
import { NarrowField, SearchBar, useInAddress } from '../../../ui/search.js';
import { usePayload } from '../../../ui/send.js';
import { Table } from '../../../ui/table.js';
import { Action, ActionLink, Dialog, Empty, Failed, Waiting } from '../../../ui/words.js';
import { CalibrationTable, RecordCalibration } from '../documents.js';
import { SharedSection } from './shared-section.js';
import { NewLeaf, rangeText, VersionLink, VersionState } from './version-columns.js';

type Calibration = CalibrationTableQuery['calibrations'][number];
type Crop = CalibrationTableQuery['crops'][number];

const none = 'not fitted yet';

const columns = [
  { head: 'Calibration', cell: ({ id, label }: Calibration) => <Link to={`/calibrations/${id}`}>{label}</Link> },
  { head: 'Newest', cell: ({ versions: [newest] }: Calibration) => (newest ? <VersionLink version={newest} /> : none) },
  { head: 'State', cell: ({ versions: [newest] }: Calibration) => (newest ? <VersionState version={newest} /> : '–') },
  { head: 'Leaves', number: true, cell: ({ versions: [newest] }: Calibration) => newest?.leafCount ?? '–' },
  { head: 'One new leaf, 95 %', number: true, cell: ({ versions: [newest] }: Calibration) => (newest ? <NewLeaf version={newest} /> : '–') },
  { head: 'RWC range', number: true, cell: ({ versions: [newest] }: Calibration) => (newest ? rangeText(newest) : '–') },
] as const;

/** Calibrations by crop, each with its newest version and how far it holds for a leaf it has not seen. */
export function CalibrationsScreen() {
  const mayBuild = useHasRole('RESEARCHER', 'MANAGER');
  const [recording, setRecording] = useState(false);
  const [cropId] = useInAddress('crop');
  const { data, error, refetch } = useQuery(CalibrationTable, { variables: { cropId: cropId || null } });
  useLive(() => refetch(), ({ kind }) => ['calibration', 'calibration_version', 'signature', 'amendment'].includes(kind));
  const crops = data?.crops.map((crop) => ({ crop, own: data.calibrations.filter((each) => each.crop.id === crop.id) })).filter(({ own }) => own.length > 0) ?? [];
  return (
    <Page title="Calibrations" lead="Transmittance against RWC, fitted to leaves. How leaves differ, not the balance, limits how well a new leaf can be read: that half-width stands beside every version."
      actions={<>{mayBuild ? <Action onClick={() => setRecording(true)}>Begin a calibration</Action> : null}<ActionLink to="/calibrations/compare">Compare across crops</ActionLink><ActionLink to="/calibrations/spectra">Spectra</ActionLink></>}>
      {data && (data.crops.length > 1 || cropId) ? <Strip><SearchBar><NarrowField name="crop" label="Crop" all="All crops" choices={data.crops.map(({ id, name }) => ({ value: id, label: name }))} /></SearchBar></Strip> : null}
      {!data ? <Strip>{error ? <Failed what="the calibrations" again={() => void refetch()} /> : <Waiting what="the calibrations" />}</Strip> : null}
      {data && crops.length === 0 ? <Strip><Empty title="No calibration has been begun yet."><p>It takes released drying runs with readings of at least three leaves. <Link to="/bench">Runs stand on the Bench.</Link></p></Empty></Strip> : null}
      {crops.map(({ crop, own }) => <Section key={crop.id} title={crop.name}><Table caption={`Calibrations of ${crop.name}`} columns={columns} rows={own} keyOf={({ id }) => id} /></Section>)}
      {cropId ? null : <SharedSection mayImport={mayBuild} />}
      <BeginDialog opened={recording} onClose={() => setRecording(false)} crops={data?.crops ?? []} />
    </Page>
  );
}

const empty = { label: '', cropId: '' };

function BeginDialog({ opened, onClose, crops }: { readonly opened: boolean; readonly onClose: () => void; readonly crops: readonly Crop[] }) {
  const send = usePayload();
  const navigate = useNavigate();
  const entry = useEntry({
    initial: empty,
    send: ({ label, cropId }, id) => send(RecordCalibration, { input: { id, label: label.trim(), cropId: cropId || (crops[0]?.id ?? '') } }),
    onRecorded: ({ calibration }) => void (calibration && navigate(`/calibrations/${calibration.id}/fit`)),
  });
  return (
    <Dialog title="Begin a calibration" opened={opened} onClose={onClose}>
      <EntryForm entry={entry} action="Begin calibration" onCancel={onClose} disabled={crops.length === 0}>
        <TextField {...entry.field('label')} label="Label" hint="Crop and rig, as a rule" autoFocus />
        <ChoiceField {...entry.field('cropId')} label="Crop" choices={crops.map(({ id, name }) => ({ value: id, label: name }))} />
      </EntryForm>
    </Dialog>
  );
}
