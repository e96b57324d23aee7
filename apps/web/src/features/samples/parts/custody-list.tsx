import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { useHasRole } from '../../../app/session.js';
import { useEntry } from '../../../ui/entry.js';
import { ofKind, useLive } from '../../../ui/live.js';
import { Line, Lines, Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { Moment } from '../../../ui/time.js';
import { Action, Dialog, Empty, Notice } from '../../../ui/words.js';
import { CustodyList, RetractFact } from '../documents.js';
import { LossEntry } from './loss.js';
import { MoveEntry, type Movable } from './move.js';
import { placeName } from './place-words.js';

const concerns = ofKind('custody', 'amendment');

/** Who took it where, newest first, and the ways to move it or tell that it is gone. */
export function CustodySection({ subject, gone, onChanged }: { readonly subject: Movable; readonly gone: boolean; readonly onChanged: () => void }) {
  const mayMove = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER');
  const mayLose = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const [opened, setOpened] = useState<'move' | 'loss' | null>(null);
  const { data, refetch } = useQuery(CustodyList, { variables: { subjectId: subject.id } });
  useLive(() => refetch(), concerns);
  const close = () => setOpened(null);
  const changed = () => {
    close();
    void refetch();
    onChanged();
  };
  const custodies = data?.custodies ?? [];
  const newest = custodies.find(({ amendment }) => !amendment)?.id;
  return (
    <Section title="Where it was" actions={
      <>
        {mayMove && !gone ? <Action kind="plain" onClick={() => setOpened('move')}>Move</Action> : null}
        {mayLose && !gone && subject.kind !== 'place' ? <Action kind="plain" onClick={() => setOpened('loss')}>Lost or destroyed</Action> : null}
      </>
    }>
      {data && custodies.length === 0 ? <Empty title="Nobody has told where it is." /> : (
        <Lines label="Moves">
          {custodies.map(({ id, movedAt, place, note, recordedBy, amendment }) => (
            <Line key={id} margin={<Moment at={movedAt} />} struck={Boolean(amendment)}>
              <span>{place ? placeName(place) : `taken along by ${recordedBy.displayName}`}</span>
              <span>{recordedBy.displayName}{note ? `: ${note}` : ''}{amendment ? `. Taken back: ${amendment.reason}` : ''}</span>
              {mayMove && id === newest ? <UndoMove custodyId={id} onUndone={changed} /> : null}
            </Line>
          ))}
        </Lines>
      )}
      <Dialog title={`Move ${subject.label}`} opened={opened === 'move'} onClose={close}><MoveEntry subjects={[subject]} onClose={close} onMoved={changed} /></Dialog>
      <Dialog title={`${subject.label} is lost or destroyed`} opened={opened === 'loss'} onClose={close}>
        {subject.kind === 'place' ? null : <LossEntry subjects={[{ ...subject, kind: subject.kind }]} onClose={close} onRecorded={changed} />}
      </Dialog>
    </Section>
  );
}

const nothing = {};

/** A move told by mistake is taken back by an amendment: both stay in sight. */
function UndoMove({ custodyId, onUndone }: { readonly custodyId: string; readonly onUndone: () => void }) {
  const send = usePayload();
  const entry = useEntry({
    initial: nothing,
    send: (_values, id) => send(RetractFact, { input: { id, targetKind: 'custody', targetId: custodyId, reasonCode: 'OTHER', reason: 'Told by mistake.' } }),
    onRecorded: onUndone,
  });
  return (
    <div>
      <Action kind="quiet" onClick={() => void entry.submit()} waiting={entry.sending}>Take this move back</Action>
      {entry.problem ? <Notice tone="alarm" title={entry.problem.message}>{entry.problem.remedy}</Notice> : null}
    </div>
  );
}
