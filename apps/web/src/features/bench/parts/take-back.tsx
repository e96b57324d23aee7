import { useState } from 'react';
import { RetractWeighing } from '../../../ui/documents.js';
import { newId } from '../../../ui/id.js';
import { usePayload } from '../../../ui/send.js';
import { Action } from '../../../ui/words.js';
import type { Told } from './large-number.js';

interface TakeBackProps {
  readonly told: Told;
  readonly onTakenBack: (told: Told) => void;
}

/** Undo of what was just recorded: a retraction with its reason, for what was recorded stays in the record. */
export function TakeBack({ told, onTakenBack }: TakeBackProps) {
  const send = usePayload();
  const [id] = useState(newId);
  const [state, setState] = useState<'ready' | 'sending' | { readonly problem: string }>('ready');
  const takeBack = async () => {
    setState('sending');
    const sent = await send(RetractWeighing, {
      input: { id, targetKind: told.done.kind === 'weighing' ? 'weighing' : 'meter_reading', targetId: told.id, reasonCode: 'OTHER', reason: 'Taken back at the bench right after it was recorded.' },
    });
    if (sent.outcome === 'recorded') return onTakenBack(told);
    setState({ problem: sent.outcome === 'refused' ? `${sent.problem.message} ${sent.problem.remedy}` : `${sent.message} Take it back again when the network is there.` });
  };
  return (
    <>
      <Action kind="quiet" waiting={state === 'sending'} disabled={state === 'sending'} onClick={() => void takeBack()}>Take it back</Action>
      {typeof state === 'object' ? <span role="alert">{state.problem}</span> : null}
    </>
  );
}
