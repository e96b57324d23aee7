import { useHasRole } from '../../../app/session.js';
import { EntryOutcome, useEntry } from '../../../ui/entry.js';
import { usePayload } from '../../../ui/send.js';
import { Action } from '../../../ui/words.js';
import { ComputeRwcSeries } from '../documents.js';

const nothing = {};

/** Computes the RWC series anew from the standing weighings; what stands against it is said beside the button. */
export function ComputeSeries({ discId, again, onComputed }: { readonly discId: string; readonly again: boolean; readonly onComputed: () => void }) {
  const send = usePayload();
  const may = useHasRole('TECHNICIAN', 'RESEARCHER', 'MANAGER');
  const entry = useEntry({ initial: nothing, send: (_values, id) => send(ComputeRwcSeries, { input: { id, discId } }), onRecorded: onComputed });
  if (!may) return null;
  return (
    <>
      <EntryOutcome entry={entry} />
      <Action kind="plain" onClick={() => void entry.submit()} waiting={entry.sending}>{again ? 'Compute anew' : 'Compute RWC'}</Action>
    </>
  );
}
