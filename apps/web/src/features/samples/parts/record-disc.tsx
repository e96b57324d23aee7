import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, NumberField, TextField } from '../../../ui/fields.js';
import { usePayload } from '../../../ui/send.js';
import { Caution, Dialog, Empty } from '../../../ui/words.js';
import { PlantTable, RecordDisc } from '../documents.js';

interface DiscDialogProps {
  readonly opened: boolean;
  readonly onClose: () => void;
  /** Set where the leaf is known already. */
  readonly leafId?: string;
  readonly onRecorded?: () => void;
}

/** Records one disc after the other of a leaf. */
export function DiscDialog({ opened, onClose, leafId, onRecorded }: DiscDialogProps) {
  return (
    <Dialog title="Record a disc" opened={opened} onClose={onClose}>
      <Caution title="Blade and punch.">Cut away from the hand on a firm board; keep the guard on when it lies down.</Caution>
      <DiscEntry leafId={leafId ?? ''} onClose={onClose} onRecorded={onRecorded ?? (() => undefined)} />
    </Dialog>
  );
}

function DiscEntry({ leafId, onClose, onRecorded }: { readonly leafId: string; readonly onClose: () => void; readonly onRecorded: () => void }) {
  const send = usePayload();
  const [done, setDone] = useState<string | null>(null);
  const { data } = useQuery(PlantTable, { variables: { first: 200 }, skip: leafId !== '' });
  const leaves = (data?.plants.nodes ?? []).flatMap((plant) => plant.leaves.map((leaf) => ({ value: leaf.id, label: `${leaf.label} (${plant.crop.name}, plant ${plant.label})` })));
  const entry = useEntry({
    initial: { leafId, label: '', diameterMm: '12' },
    keep: true,
    send: ({ diameterMm, ...values }, id, at) =>
      send(RecordDisc, { input: { id, ...values, diameterMm: orNull(decimalText(diameterMm)), punchedAt: at } }),
    onRecorded: ({ disc }) => {
      setDone(disc?.label ?? null);
      entry.set('label', '');
      onRecorded();
    },
  });
  if (data && leafId === '' && leaves.length === 0) return <Empty title="There is no leaf to punch a disc from yet.">Record a plant and a leaf first, under Plants and leaves.</Empty>;
  return (
    <EntryForm entry={entry} action="Record disc" onCancel={onClose}>
      {leafId === '' ? <ChoiceField {...entry.field('leafId')} label="Leaf" none="Choose a leaf" choices={leaves} wide /> : null}
      <TextField {...entry.field('label')} label="Label" hint={done ? `${done} is recorded; now the next one.` : 'As written on its tube or envelope'} />
      <NumberField {...entry.field('diameterMm')} label="Diameter of the punch, mm" hint="Empty for a whole leaf" optional />
    </EntryForm>
  );
}
