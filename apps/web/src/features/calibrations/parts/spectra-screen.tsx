import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import { formatNumber } from '#libs/quantity';
import { useLive } from '../../../ui/live.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { AmendedMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Action, Caution, Empty, Failed, Waiting } from '../../../ui/words.js';
import { SpectrumTable } from '../spectrum-documents.js';
import { BandPart } from './band-part.js';
import { RecordSpectrumDialog } from './record-spectrum.js';
import { sorts, type SpectrumSeen } from './seen.js';

const columns = [
  { head: 'Spectrum', cell: ({ id, label, amendedBy }: SpectrumSeen) => <><Link to={threadPath('spectrum', id)}>{label}</Link>{amendedBy ? <><br /><AmendedMark /></> : null}</> },
  { head: 'Of a', cell: ({ spectrumOf }: SpectrumSeen) => sorts[spectrumOf] },
  { head: 'From, to, nm', number: true, cell: ({ fromNm, toNm }: SpectrumSeen) => `${formatNumber(fromNm, 0)} to ${formatNumber(toNm, 0)}` },
  { head: 'Peak, nm', number: true, cell: ({ peakNm }: SpectrumSeen) => formatNumber(peakNm, 0) },
  { head: 'Overlap with water', number: true, cell: ({ waterOverlap }: SpectrumSeen) => (waterOverlap == null ? '–' : `${Math.round(100 * waterOverlap)} %`) },
  { head: 'File', cell: ({ file, partName }: SpectrumSeen) => <><a href={file.url}>{file.name}</a>, {partName}</> },
  { head: 'Measured', cell: ({ observedAt, recordedBy }: SpectrumSeen) => <><Moment at={observedAt} />, {recordedBy.displayName}</> },
] as const;

/** Spectra of leaves, lamps, filters and absorbers, and what a band makes of them. */
export function SpectraScreen() {
  const { data, error, refetch } = useQuery(SpectrumTable);
  const [recording, setRecording] = useState(false);
  useLive(() => refetch(), ({ kind }) => ['spectrum', 'amendment'].includes(kind));
  const back = <Back to="/calibrations">Calibrations</Back>;
  return (
    <Page title="Spectra" margin={back} lead="A calibration is made under one lamp and read by one band; a device in the field has the sun and a band of its own. Spectra tell what each of them sees of the same leaf."
      actions={<Action onClick={() => setRecording(true)}>Record a spectrum</Action>}>
      {!data ? <Strip>{error ? <Failed what="the spectra" again={() => void refetch()} /> : <Waiting what="the spectra" />}</Strip> : (
        <>
          <BandPart spectra={data.spectra.filter(({ amendedBy }) => !amendedBy)} />
          <Section title="Recorded spectra" lead="Overlap with water: how far a filter or absorber lies over the absorption band of water, 1400 to 1600 nm; 100 % is one shape.">
            {data.spectra.length === 0 ? <Empty title="No spectrum is recorded yet."><p>Export one from the spectrometer as JCAMP-DX or as a table, with the wavelength in the first column.</p></Empty>
              : <Table caption="Spectra, newest first" columns={columns} rows={data.spectra} keyOf={({ id }) => id} />}
          </Section>
          <Strip><Caution title="Lamp.">Halogen and short-wave infrared lamps burn and dazzle without being seen: do not look into them, shield them, let them cool.</Caution></Strip>
        </>
      )}
      <RecordSpectrumDialog opened={recording} onClose={() => setRecording(false)} />
    </Page>
  );
}
