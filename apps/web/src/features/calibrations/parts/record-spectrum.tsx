import type { SpectrumFileKind, SpectrumOf, SpectrumValueUnit, SpectrumWavelengthUnit } from '../../../generated/graphql.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, MomentField, NumberField, TextField, TickField } from '../../../ui/fields.js';
import { FileField } from '../../../ui/file-field.js';
import { usePayload } from '../../../ui/send.js';
import { localInput, momentFromInput } from '../../../ui/time.js';
import { Dialog } from '../../../ui/words.js';
import { RecordSpectrum } from '../spectrum-documents.js';
import { sorts } from './seen.js';

const first = () => ({ label: '', spectrumOf: 'LEAF', observedAt: localInput(new Date()), storedFileId: '', fileKind: 'TABLE', part: '1', wavelengthUnit: 'NM', valueUnit: 'FRACTION', decimalComma: false, note: '' });

/** The file goes first; how it is to be read is kept with it. */
export function RecordSpectrumDialog({ opened, onClose }: { readonly opened: boolean; readonly onClose: () => void }) {
  return <Dialog title="Record a spectrum" opened={opened} onClose={onClose}><RecordSpectrumForm onClose={onClose} /></Dialog>;
}

function RecordSpectrumForm({ onClose }: { readonly onClose: () => void }) {
  const send = usePayload();
  const entry = useEntry({
    initial: first(), keep: true,
    send: ({ label, spectrumOf, observedAt, storedFileId, fileKind, part, wavelengthUnit, valueUnit, decimalComma, note }, id) => send(RecordSpectrum, {
      input: {
        id, label, spectrumOf: spectrumOf as SpectrumOf, observedAt: momentFromInput(observedAt), storedFileId, fileKind: fileKind as SpectrumFileKind, part: Number(part),
        wavelengthUnit: wavelengthUnit as SpectrumWavelengthUnit, valueUnit: valueUnit as SpectrumValueUnit, decimalComma, note: orNull(note),
      },
    }),
    onRecorded: onClose,
  });
  const table = entry.values.fileKind === 'TABLE';
  return (
    <EntryForm entry={entry} action="Record spectrum" onCancel={onClose} disabled={entry.values.storedFileId === ''}>
      <FileField {...entry.field('storedFileId')} label="File of the spectrometer" purpose="SPECTRUM" hint="JCAMP-DX, or a table with the wavelength in the first column" accept=".jdx,.dx,.jcamp,.csv,.tsv,.txt" wide />
      <TextField {...entry.field('label')} label="Label" hint="What and when, such as lamp of rig A, June" />
      <ChoiceField {...entry.field('spectrumOf')} label="Spectrum of a" choices={Object.entries(sorts).map(([value, label]) => ({ value, label }))} />
      <MomentField {...entry.field('observedAt')} label="Measured" />
      <ChoiceField {...entry.field('fileKind')} label="Kind of file" choices={[{ value: 'TABLE', label: 'Table: CSV or TSV' }, { value: 'JCAMP_DX', label: 'JCAMP-DX' }]} />
      <NumberField {...entry.field('part')} label={table ? 'Column of values' : 'Block'} hint="From 1" />
      {table ? (
        <>
          <ChoiceField {...entry.field('wavelengthUnit')} label="Wavelengths in" choices={[{ value: 'NM', label: 'nm' }, { value: 'UM', label: 'µm' }]} />
          <ChoiceField {...entry.field('valueUnit')} label="Values as" choices={[{ value: 'FRACTION', label: 'fraction or any unit of light' }, { value: 'PERCENT', label: 'per cent' }]} />
          <TickField {...entry.field('decimalComma')} label="The decimal mark is a comma" />
        </>
      ) : null}
      <TextField {...entry.field('note')} label="Note" optional wide />
    </EntryForm>
  );
}
