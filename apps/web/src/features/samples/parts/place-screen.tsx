import { useQuery } from '@apollo/client/react';
import { Link, useParams } from 'react-router';
import { useState } from 'react';
import { useHasRole } from '../../../app/session.js';
import type { CustodyKind } from '../../../generated/graphql.js';
import { newId } from '../../../ui/id.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Back, Facts, Line, Lines, Page, Section, Strip } from '../../../ui/page.js';
import { recordPath } from '../../../ui/paths.js';
import { ScanField, type ScannedThing } from '../../../ui/scan-field.js';
import { usePayload } from '../../../ui/send.js';
import { Moment, momentNow } from '../../../ui/time.js';
import { Action, ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { PlacePage, PlaceTree, RecordCustody } from '../documents.js';
import { CustodySection } from './custody-list.js';
import { Code } from './description.js';
import { placeKindWord } from './place-words.js';

const concerns = ofKind('place', 'custody', 'amendment');

/** One place: what lies in it, and putting things into it by scan. */
export function PlaceScreen() {
  const { id = '' } = useParams();
  const mayMove = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER');
  const { data, error, refetch } = useQuery(PlacePage, { variables: { id } });
  const tree = useQuery(PlaceTree);
  useLive(() => { void refetch(); void tree.refetch(); }, concerns);
  const back = <Back to="/samples/places">Places</Back>;
  if (!data) return <Page title="Place" margin={back}><Strip>{error ? <Failed what="this place" again={() => void refetch()} /> : <Waiting what="the place" />}</Strip></Page>;
  const { place } = data;
  if (!place) return <Page title="Place" margin={back}><Strip><Empty title="No place of this lab has this address." /></Strip></Page>;
  const within = (tree.data?.places ?? []).filter(({ inside }) => inside?.id === place.id);
  return (
    <Page title={place.label} margin={back} lead={`${placeKindWord(place.placeKind)}${place.inside ? `, in ${place.path.slice(0, -1).join(', ')}` : ''}`}
      actions={<ActionLink to={`/samples/labels?kind=PLACE&ids=${[place.id, ...within.filter(({ placeKind }) => placeKind === 'POSITION').map((each) => each.id)].join(',')}`}>Print labels</ActionLink>}>
      <Strip>
        <Facts rows={[
          { name: 'Code', value: <Code>{place.code}</Code> },
          place.note ? { name: 'Note', value: place.note } : null,
          { name: 'Recorded', value: <><Moment at={place.recordedAt} /> by {place.recordedBy.displayName}</> },
        ]} />
      </Strip>
      <Section title="What lies in it" margin={place.samples.length === 1 ? '1 sample' : `${place.samples.length} samples`}>
        {mayMove ? <PutIn placeId={place.id} onPut={() => void refetch()} /> : null}
        {within.length > 0 ? (
          <Lines label="Places inside">
            {within.map((each) => <Line key={each.id} margin={placeKindWord(each.placeKind)}><span><Link to={`/samples/place/${each.id}`}>{each.label}</Link>{each.sampleCount > 0 ? `, ${each.sampleCount === 1 ? '1 sample' : `${each.sampleCount} samples`}` : ''}</span></Line>)}
          </Lines>
        ) : null}
        {place.samples.length === 0 && within.length === 0 ? <Empty title="Nothing lies in it." /> : (
          <Lines label="Samples in it">
            {place.samples.map((custody) => (
              <Line key={custody.id} margin={<Moment at={custody.movedAt} />}>
                <span><Link to={recordPath(custody.subject.kind, custody.subject.id)}>{custody.subject.label}</Link>, {custody.subject.kind}, put there by {custody.recordedBy.displayName}</span>
              </Line>
            ))}
          </Lines>
        )}
      </Section>
      <CustodySection subject={{ kind: 'place', id: place.id, label: place.label }} gone={false} onChanged={() => void refetch()} />
    </Page>
  );
}

interface Unsent {
  readonly id: string;
  readonly thing: ScannedThing;
  readonly movedAt: string;
  readonly told: string | null;
}

/** Each scan is one move, sent at once; one that found no network waits here and can be sent again under its id. */
function PutIn({ placeId, onPut }: { readonly placeId: string; readonly onPut: () => void }) {
  const send = usePayload();
  const [waiting, setWaiting] = useState<readonly Unsent[]>([]);
  const [last, setLast] = useState<string | null>(null);
  const put = async (move: Unsent) => {
    const { id, thing, movedAt } = move;
    const sent = await send(RecordCustody, { input: { moves: [{ id, subjectKind: thing.kind.toUpperCase() as CustodyKind, subjectId: thing.id }], placeId, movedAt } });
    setWaiting((before) => before.filter((each) => each.id !== id));
    if (sent.outcome === 'recorded') {
      setLast(thing.label);
      return onPut();
    }
    setWaiting((before) => [...before, { ...move, told: sent.outcome === 'refused' ? `${sent.problem.message} ${sent.problem.remedy}` : sent.message }]);
  };
  return (
    <>
      <ScanField label="Scan what is put in" kinds={['disc', 'leaf', 'plant', 'place']} onFound={(thing) => void put({ id: newId(), thing, movedAt: momentNow(), told: null })} />
      <p role="status">{last ? `${last} is put in.` : ''}</p>
      {waiting.map((move) => (
        <Notice key={move.id} tone="ask" title={`${move.thing.label} is not put in yet.`}>
          <p>{move.told}</p>
          <p><Action kind="plain" onClick={() => void put(move)}>Send again</Action> <Action kind="quiet" onClick={() => setWaiting((before) => before.filter((each) => each.id !== move.id))}>Leave it</Action></p>
        </Notice>
      ))}
    </>
  );
}
