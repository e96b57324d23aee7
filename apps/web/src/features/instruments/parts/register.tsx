import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, NumberField, TextField } from '../../../ui/fields.js';
import { unitText } from '../../../ui/quantity.js';
import { usePayload } from '../../../ui/send.js';
import type { ProblemSeen, Sent } from '../../../ui/send.js';
import { Caution, Dialog, Empty } from '../../../ui/words.js';
import type { InstrumentKind } from '../../../generated/graphql.js';
import { RegisterInstrument, RegisterRig } from '../documents.js';
import { kindChoices, kinds } from './kinds.js';

const emptyInstrument = { kind: 'BALANCE', label: '', serialNumber: '', location: '', resolution: '', repeatability: '', linearity: '', driftPerYear: '', checkEveryHours: '24' };

/** A whole number the contract wants as Int; what cannot be one is told at its field and not sent. */
function wholeNumber(field: string, text: string): number | Sent<never> {
  const value = Number(text.trim());
  if (text.trim() !== '' && Number.isInteger(value) && value > 0) return value;
  const problem: ProblemSeen = { code: 'INPUT', field, message: `“${text}” is not a whole number above 0.`, remedy: 'Type digits only, without a unit.' };
  return { outcome: 'refused', payload: null, problem };
}

export function RegisterInstrumentDialog({ opened, onClose }: { readonly opened: boolean; readonly onClose: () => void }) {
  return <Dialog title="Register an instrument" opened={opened} onClose={onClose}><InstrumentEntry onClose={onClose} /></Dialog>;
}

function InstrumentEntry({ onClose }: { readonly onClose: () => void }) {
  const send = usePayload();
  const entry = useEntry({
    initial: emptyInstrument,
    send: async (values, id) => {
      const hours = wholeNumber('checkEveryHours', values.checkEveryHours);
      if (typeof hours !== 'number') return hours;
      const kind = values.kind as InstrumentKind;
      return send(RegisterInstrument, {
        input: {
          id, kind, label: values.label.trim(), serialNumber: orNull(values.serialNumber), location: orNull(values.location),
          resolution: orNull(decimalText(values.resolution)), repeatability: orNull(decimalText(values.repeatability)), linearity: orNull(decimalText(values.linearity)), driftPerYear: orNull(decimalText(values.driftPerYear)), unit: kinds[kind].unit, checkEveryHours: hours,
        },
      });
    },
    onRecorded: onClose,
  });
  const unit = unitText(kinds[entry.values.kind as InstrumentKind].unit);
  return (
    <EntryForm entry={entry} action="Register" onCancel={onClose}>
      <ChoiceField {...entry.field('kind')} label="Kind" choices={kindChoices} />
      <TextField {...entry.field('label')} label="Label" hint="What people call it, for example B-2" />
      <TextField {...entry.field('serialNumber')} label="Serial number" optional />
      <TextField {...entry.field('location')} label="Location" optional />
      <NumberField {...entry.field('resolution')} label={`Resolution, ${unit}`} hint="The smallest step it shows" optional />
      <NumberField {...entry.field('repeatability')} label={`Repeatability, ${unit}`} hint="Standard deviation of repeated readings" optional />
      <NumberField {...entry.field('linearity')} label={`Linearity, ${unit}`} hint="Largest error over the range, after adjustment" optional />
      <NumberField {...entry.field('driftPerYear')} label={`Drift in a year, ${unit}`} hint="The most its maker or its history tells" optional />
      <NumberField {...entry.field('checkEveryHours')} label="A passed check is good for, hours" inputMode="numeric" />
    </EntryForm>
  );
}

interface RigDialogProps {
  readonly opened: boolean;
  readonly onClose: () => void;
  readonly meters: readonly { readonly id: string; readonly label: string }[];
  readonly rigs: readonly { readonly label: string; readonly version: number }[];
}

export function RegisterRigDialog({ opened, onClose, meters, rigs }: RigDialogProps) {
  return (
    <Dialog title="Register a rig" opened={opened} onClose={onClose}>
      {meters.length === 0 ? <Empty title="There is no power meter yet.">Register the rig’s power meter first.</Empty> : (
        <>
          <Caution title="Lamp.">Hot surfaces and invisible infrared: shield the beam, do not stare into it, let the lamp cool before you change it.</Caution>
          <RigEntry onClose={onClose} meters={meters} rigs={rigs} />
        </>
      )}
    </Dialog>
  );
}

const emptyRig = { label: '', source: '', bandCentreNm: '1460', bandWidthNm: '', diffuser: '', apertureMm: '', meterId: '' };

function RigEntry({ onClose, meters, rigs }: Omit<RigDialogProps, 'opened'>) {
  const send = usePayload();
  const versionOf = (label: string) => 1 + Math.max(0, ...rigs.filter((rig) => rig.label === label.trim()).map(({ version }) => version));
  const entry = useEntry({
    initial: emptyRig,
    send: ({ label, source, bandCentreNm, bandWidthNm, diffuser, apertureMm, meterId }, id) => send(RegisterRig, {
      input: {
        id, label: label.trim(), version: versionOf(label), source: source.trim(), bandCentreNm: decimalText(bandCentreNm), bandWidthNm: decimalText(bandWidthNm),
        diffuser: orNull(diffuser), apertureMm: orNull(decimalText(apertureMm)), meterId,
      },
    }),
    onRecorded: onClose,
  });
  return (
    <EntryForm entry={entry} action="Register rig" onCancel={onClose} disabled={entry.values.meterId === ''}>
      <TextField {...entry.field('label')} label="Label" hint={entry.values.label.trim() === '' ? 'The label of a rig that is there makes its next version' : `This will be version ${versionOf(entry.values.label)}`} />
      <TextField {...entry.field('source')} label="Source" hint="Lamp and its power" />
      <NumberField {...entry.field('bandCentreNm')} label="Centre of the filter band, nm" />
      <NumberField {...entry.field('bandWidthNm')} label="Full width at half maximum, nm" />
      <TextField {...entry.field('diffuser')} label="Diffuser" optional />
      <NumberField {...entry.field('apertureMm')} label="Aperture, mm" optional />
      <ChoiceField {...entry.field('meterId')} label="Power meter" none="Choose a meter" choices={meters.map(({ id, label }) => ({ value: id, label }))} />
    </EntryForm>
  );
}
