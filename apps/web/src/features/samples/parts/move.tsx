import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import type { CustodyKind } from '../../../generated/graphql.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, TextField } from '../../../ui/fields.js';
import { ScanField } from '../../../ui/scan-field.js';
import { usePayload } from '../../../ui/send.js';
import { PlaceTree, RecordCustody } from '../documents.js';
import { useBatchIds } from './batch-ids.js';
import { placeName } from './place-words.js';

export interface Movable {
  readonly kind: 'plant' | 'leaf' | 'disc' | 'place';
  readonly id: string;
  readonly label: string;
}

const ALONG = 'along';

/** Takes samples or places somewhere: the place scanned or chosen. */
export function MoveEntry({ subjects, onClose, onMoved }: { readonly subjects: readonly Movable[]; readonly onClose: () => void; readonly onMoved: () => void }) {
  const send = usePayload();
  const idsFor = useBatchIds();
  const { data } = useQuery(PlaceTree);
  const [scanned, setScanned] = useState<string | null>(null);
  const entry = useEntry({
    initial: { placeId: '', note: '' },
    send: ({ placeId, note }, id, at) => {
      const ids = idsFor(id, subjects.length);
      const moves = subjects.map((subject, i) => ({ id: ids[i]!, subjectKind: subject.kind.toUpperCase() as CustodyKind, subjectId: subject.id }));
      return send(RecordCustody, { input: { moves, placeId: placeId === ALONG ? null : placeId, movedAt: at, note: orNull(note) } });
    },
    onRecorded: onMoved,
  });
  const choices = [{ value: ALONG, label: 'I take it along' }, ...(data?.places ?? []).map((place) => ({ value: place.id, label: placeName(place) }))];
  return (
    <>
      <p>{subjects.map(({ label }) => label).join(', ')}</p>
      <ScanField label="Scan the place" kinds={['place']} onFound={({ id, label }) => { setScanned(label); entry.set('placeId', id); }} />
      <EntryForm entry={entry} action="Record move" onCancel={onClose} disabled={entry.values.placeId === ''}>
        <ChoiceField {...entry.field('placeId')} label="Where to" none="Scan or choose a place" choices={choices} hint={scanned ? `Scanned: ${scanned}` : undefined} />
        <TextField {...entry.field('note')} label="Note" optional />
      </EntryForm>
    </>
  );
}
