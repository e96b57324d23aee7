import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link, useNavigate } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { PlaceKind, PlaceTreeQuery } from '../../../generated/graphql.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, NumberField, TextField } from '../../../ui/fields.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Page, Section } from '../../../ui/page.js';
import { ScanField } from '../../../ui/scan-field.js';
import { usePayload } from '../../../ui/send.js';
import { Action, Dialog, Empty, Failed, Waiting } from '../../../ui/words.js';
import { PlaceTree, RecordPlace } from '../documents.js';
import { placeKinds, placeKindWord, placeName } from './place-words.js';
import styles from './samples.module.css';

type Place = PlaceTreeQuery['places'][number];

const concerns = ofKind('place', 'custody', 'amendment');

/** The tree of places; positions of a tray are shown on the tray's own page. */
export function PlacesScreen() {
  const navigate = useNavigate();
  const mayRecord = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER');
  const [recording, setRecording] = useState(false);
  const { data, error, refetch } = useQuery(PlaceTree);
  useLive(() => refetch(), concerns);
  const places = data?.places;
  return (
    <Page title="Places" margin={<Back to="/samples">Samples</Back>} lead="Where samples are kept, from the site down to a position on a tray." actions={mayRecord ? <Action onClick={() => setRecording(true)}>Record a place</Action> : null}>
      <Section title="All places">
        <ScanField label="Scan a place to open it" kinds={['place']} onFound={({ id }) => void navigate(`/samples/place/${id}`)} />
        {!places && error ? <Failed what="the places" again={() => void refetch()} /> : null}
        {!places && !error ? <Waiting what="the places" /> : null}
        {places?.length === 0 ? <Empty title="No place has been recorded yet.">Begin with the building or the room; then what stands in it.</Empty> : null}
        {places && places.length > 0 ? <Tree places={places} insideId={null} /> : null}
      </Section>
      <Dialog title="Record a place" opened={recording} onClose={() => setRecording(false)}>
        <PlaceEntry places={places ?? []} onClose={() => setRecording(false)} onRecorded={() => { setRecording(false); void refetch(); }} />
      </Dialog>
    </Page>
  );
}

function Tree({ places, insideId }: { readonly places: readonly Place[]; readonly insideId: string | null }) {
  const here = places.filter((place) => (place.inside?.id ?? null) === insideId && place.placeKind !== 'POSITION');
  if (here.length === 0) return null;
  return (
    <ul className={styles.tree}>
      {here.map((place) => (
        <li key={place.id}>
          <div className={styles.node}>
            <Link to={`/samples/place/${place.id}`}>{place.label}</Link>
            <small>{placeKindWord(place.placeKind)}{told(places, place)}</small>
          </div>
          <Tree places={places} insideId={place.id} />
        </li>
      ))}
    </ul>
  );
}

function told(places: readonly Place[], place: Place): string {
  const positions = places.filter(({ inside, placeKind }) => inside?.id === place.id && placeKind === 'POSITION');
  const samples = place.sampleCount + positions.reduce((sum, { sampleCount }) => sum + sampleCount, 0);
  return [positions.length > 0 ? `, ${positions.length} positions` : '', samples > 0 ? `, ${samples === 1 ? '1 sample' : `${samples} samples`}` : ''].join('');
}

const empty = { placeKind: 'ROOM', label: '', insideId: '', note: '', positionRows: '', positionColumns: '' };
const count = (text: string): number | null => (text.trim() === '' ? null : Number(text));

function PlaceEntry({ places, onClose, onRecorded }: { readonly places: readonly Place[]; readonly onClose: () => void; readonly onRecorded: () => void }) {
  const send = usePayload();
  const entry = useEntry({
    initial: empty,
    send: ({ placeKind, label, insideId, note, positionRows, positionColumns }, id) => send(RecordPlace, {
      input: {
        id, placeKind: placeKind as PlaceKind, label, insideId: insideId || null, note: orNull(note),
        ...(placeKind === 'TRAY' ? { positionRows: count(positionRows), positionColumns: count(positionColumns) } : {}),
      },
    }),
    onRecorded,
  });
  const around = places.filter(({ placeKind }) => placeKind !== 'POSITION').map((place) => ({ value: place.id, label: placeName(place) }));
  return (
    <EntryForm entry={entry} action="Record place" onCancel={onClose}>
      <ChoiceField {...entry.field('placeKind')} label="What it is" choices={placeKinds} />
      <TextField {...entry.field('label')} label="Label" hint="As people call it there" />
      <ChoiceField {...entry.field('insideId')} label="Inside" none="nothing: it is at the top" choices={around} optional />
      {entry.values.placeKind === 'TRAY' ? (
        <>
          <NumberField {...entry.field('positionRows')} label="Rows of positions" hint="Called A, B …" inputMode="numeric" optional />
          <NumberField {...entry.field('positionColumns')} label="Columns of positions" hint="Called 1, 2 …" inputMode="numeric" optional />
        </>
      ) : null}
      <TextField {...entry.field('note')} label="Note" optional />
    </EntryForm>
  );
}
