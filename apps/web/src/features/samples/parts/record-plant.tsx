import { useQuery } from '@apollo/client/react';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, MomentField, TextField } from '../../../ui/fields.js';
import { FileField } from '../../../ui/file-field.js';
import { usePayload } from '../../../ui/send.js';
import { momentFromInput } from '../../../ui/time.js';
import { Caution, Dialog } from '../../../ui/words.js';
import { CropList, RecordCrop, RecordLeaf, RecordPlant } from '../documents.js';

interface DialogProps {
  readonly opened: boolean;
  readonly onClose: () => void;
  readonly onRecorded: () => void;
}

export function CropDialog({ opened, onClose, onRecorded }: DialogProps) {
  return <Dialog title="Record a crop" opened={opened} onClose={onClose}><CropEntry onClose={onClose} onRecorded={onRecorded} /></Dialog>;
}

const emptyCrop = { name: '', scientificName: '' };

function CropEntry({ onClose, onRecorded }: Omit<DialogProps, 'opened'>) {
  const send = usePayload();
  const { refetch } = useQuery(CropList);
  const entry = useEntry({
    initial: emptyCrop,
    send: ({ name, scientificName }, id) => send(RecordCrop, { input: { id, name: name.trim(), scientificName: orNull(scientificName) } }),
    onRecorded: () => void refetch().then(onRecorded),
  });
  return (
    <EntryForm entry={entry} action="Record crop" onCancel={onClose}>
      <TextField {...entry.field('name')} label="Name" />
      <TextField {...entry.field('scientificName')} label="Scientific name" optional />
    </EntryForm>
  );
}

export function PlantDialog({ opened, onClose, onRecorded }: DialogProps) {
  return <Dialog title="Record a plant" opened={opened} onClose={onClose}><PlantEntry onClose={onClose} onRecorded={onRecorded} /></Dialog>;
}

const emptyPlant = { cropId: '', label: '', cultivar: '', treatment: '' };

function PlantEntry({ onClose, onRecorded }: Omit<DialogProps, 'opened'>) {
  const send = usePayload();
  const { data } = useQuery(CropList);
  const entry = useEntry({
    initial: emptyPlant,
    send: ({ cropId, label, cultivar, treatment }, id) =>
      send(RecordPlant, { input: { id, cropId, label: label.trim(), cultivar: orNull(cultivar), treatment: orNull(treatment) } }),
    onRecorded,
  });
  return (
    <EntryForm entry={entry} action="Record plant" onCancel={onClose} disabled={entry.values.cropId === ''}>
      <ChoiceField {...entry.field('cropId')} label="Crop" none="Choose a crop" choices={(data?.crops ?? []).map((crop) => ({ value: crop.id, label: crop.name }))} />
      <TextField {...entry.field('label')} label="Label" hint="As on its pot or row" />
      <TextField {...entry.field('cultivar')} label="Cultivar" optional />
      <TextField {...entry.field('treatment')} label="Treatment" optional />
    </EntryForm>
  );
}

interface LeafDialogProps {
  readonly plant: { readonly id: string; readonly label: string } | null;
  readonly onClose: () => void;
  readonly onRecorded: () => void;
}

export function LeafDialog({ plant, onClose, onRecorded }: LeafDialogProps) {
  return (
    <Dialog title={`Record a leaf of ${plant?.label ?? ''}`} opened={plant !== null} onClose={onClose}>
      <Caution title="Blade, sap and sprays.">Cut away from the hand; look at the plant’s re-entry interval after spraying before you touch it.</Caution>
      {plant ? <LeafEntry plantId={plant.id} onClose={onClose} onRecorded={onRecorded} /> : null}
    </Dialog>
  );
}

const emptyLeaf = { label: '', position: '', growthStage: '', cutAt: '', photoId: '' };

function LeafEntry({ plantId, onClose, onRecorded }: Omit<LeafDialogProps, 'plant'> & { readonly plantId: string }) {
  const send = usePayload();
  const entry = useEntry({
    initial: emptyLeaf,
    send: ({ label, position, growthStage, cutAt, photoId }, id) => send(RecordLeaf, {
      input: { id, plantId, label: label.trim(), position: orNull(position), growthStage: orNull(growthStage), cutAt: cutAt === '' ? null : momentFromInput(cutAt), photoId: photoId || null },
    }),
    onRecorded,
  });
  return (
    <EntryForm entry={entry} action="Record leaf" onCancel={onClose}>
      <TextField {...entry.field('label')} label="Label" />
      <TextField {...entry.field('position')} label="Position on the plant" optional />
      <TextField {...entry.field('growthStage')} label="Growth stage" optional />
      <MomentField {...entry.field('cutAt')} label="Cut at" optional />
      <FileField {...entry.field('photoId')} label="Photo" purpose="PHOTO" accept="image/jpeg,image/png,image/webp" camera optional wide />
    </EntryForm>
  );
}
