import { useState } from 'react';
import { useHasRole } from '../../../app/session.js';
import type { InstrumentPageQuery } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { MomentField, NumberField, TextField } from '../../../ui/fields.js';
import { FileField } from '../../../ui/file-field.js';
import { Section } from '../../../ui/page.js';
import { unitText } from '../../../ui/quantity.js';
import { usePayload } from '../../../ui/send.js';
import { Table } from '../../../ui/table.js';
import { momentFromInput, Moment } from '../../../ui/time.js';
import { Action, Empty } from '../../../ui/words.js';
import { RecordInstrumentCalibration } from '../documents.js';

type Instrument = NonNullable<InstrumentPageQuery['instrument']>;
type Calibration = Instrument['calibrations'][number];

/** Calibrations by others, with their certificates; until when the newest is good. */
export function CalibrationSection({ instrument, again }: { readonly instrument: Instrument; readonly again: () => void }) {
  const mayRecord = useHasRole('MANAGER');
  const [open, setOpen] = useState(false);
  const { calibrations } = instrument;
  const unit = unitText(instrument.unit);
  const recorded = () => {
    setOpen(false);
    again();
  };
  return (
    <Section title="Calibrations" lead="By somebody else, with their certificate. Once the newest is due, the instrument is overdue whatever its checks say."
      actions={mayRecord && !open ? <Action kind="plain" onClick={() => setOpen(true)}>Record a calibration</Action> : null}>
      {open ? <CalibrationEntry instrument={instrument} onRecorded={recorded} onCancel={() => setOpen(false)} /> : null}
      {calibrations.length === 0 ? <Empty title="No calibration is recorded." /> : (
        <Table caption={`Calibrations of ${instrument.label}, newest first`} rows={calibrations} keyOf={({ id }) => id} columns={[
          { head: 'When', cell: (each: Calibration) => <Moment at={each.calibratedAt} /> },
          { head: 'By', cell: (each: Calibration) => each.calibratedBy },
          { head: 'Good until', cell: (each: Calibration) => <Moment at={each.dueAt} relative /> },
          { head: `Largest error, ${unit}`, number: true, cell: (each: Calibration) => each.largestError ?? 'not told' },
          { head: `Expanded uncertainty, ${unit}`, number: true, cell: (each: Calibration) => each.expandedUncertainty ?? 'not told' },
          { head: 'Certificate', cell: (each: Calibration) => <Certificate calibration={each} /> },
          { head: 'Note', cell: (each: Calibration) => each.note ?? '' },
        ]} />
      )}
    </Section>
  );
}

function Certificate({ calibration: { certificateNumber, certificateFile } }: { readonly calibration: Calibration }) {
  const name = certificateNumber ?? certificateFile?.name ?? 'not told';
  return certificateFile ? <a href={certificateFile.url} title={`SHA-256 ${certificateFile.sha256}`}>{name}</a> : <>{name}</>;
}

const empty = { calibratedAt: '', dueAt: '', calibratedBy: '', certificateNumber: '', certificateFileId: '', largestError: '', expandedUncertainty: '', note: '' };

function CalibrationEntry({ instrument, onRecorded, onCancel }: { readonly instrument: Instrument; readonly onRecorded: () => void; readonly onCancel: () => void }) {
  const send = usePayload();
  const entry = useEntry({
    initial: empty,
    send: (values, id) => send(RecordInstrumentCalibration, {
      input: {
        id, instrumentId: instrument.id, calibratedAt: momentFromInput(values.calibratedAt), dueAt: momentFromInput(values.dueAt), calibratedBy: values.calibratedBy.trim(),
        certificateNumber: orNull(values.certificateNumber), certificateFileId: orNull(values.certificateFileId),
        largestError: orNull(decimalText(values.largestError)), expandedUncertainty: orNull(decimalText(values.expandedUncertainty)), note: orNull(values.note),
      },
    }),
    onRecorded,
  });
  const unit = unitText(instrument.unit);
  return (
    <EntryForm entry={entry} action="Record calibration" onCancel={onCancel} disabled={entry.values.calibratedAt === '' || entry.values.dueAt === ''}>
      <MomentField {...entry.field('calibratedAt')} label="Calibrated at" />
      <MomentField {...entry.field('dueAt')} label="Next calibration due" />
      <TextField {...entry.field('calibratedBy')} label="Calibrated by" hint="The laboratory or person" />
      <TextField {...entry.field('certificateNumber')} label="Number of the certificate" optional />
      <NumberField {...entry.field('largestError')} label={`Largest error found, ${unit}`} optional />
      <NumberField {...entry.field('expandedUncertainty')} label={`Expanded uncertainty, ${unit}`} hint="Coverage factor 2" optional />
      <FileField {...entry.field('certificateFileId')} label="The certificate" purpose="CERTIFICATE" accept=".pdf,image/*" optional />
      <TextField {...entry.field('note')} label="Note" optional />
    </EntryForm>
  );
}
