import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField } from '../../../ui/fields.js';
import { usePayload } from '../../../ui/send.js';
import { Dialog, Notice } from '../../../ui/words.js';
import { UnloadOvenCycle } from '../documents.js';
import type { Cycle } from './cycle.js';
import { OvenCaution } from './oven-caution.js';

interface UnloadProps {
  readonly cycle: Cycle;
  readonly opened: boolean;
  readonly onClose: () => void;
  readonly onUnloaded: () => void;
}

/** Takes the discs out, after constant mass or with a reason. */
export function UnloadDialog({ cycle, opened, onClose, onUnloaded }: UnloadProps) {
  return (
    <Dialog title={`Unload cycle ${cycle.label}`} opened={opened} onClose={onClose}>
      <OvenCaution />
      <UnloadEntry cycle={cycle} onClose={onClose} onUnloaded={onUnloaded} />
    </Dialog>
  );
}

const empty = { reason: '' };

function UnloadEntry({ cycle, onClose, onUnloaded }: Omit<UnloadProps, 'opened'>) {
  const send = usePayload();
  const open = cycle.constantMass.filter(({ reached }) => !reached).map(({ disc }) => disc.label);
  const entry = useEntry({
    initial: empty,
    keep: true,
    send: ({ reason }, id, at) => send(UnloadOvenCycle, { input: { id, ovenCycleId: cycle.id, unloadedAt: at, reason: orNull(reason) } }),
    onRecorded: onUnloaded,
  });
  return (
    <EntryForm entry={entry} action="Unload" onCancel={onClose}>
      {open.length > 0 ? <div style={{ gridColumn: '1 / -1' }}><Notice tone="ask" title={`Constant mass is not reached for ${open.join(', ')}.`}>Unloading now wants a reason, which stays with the cycle.</Notice></div> : null}
      <AreaField {...entry.field('reason')} label="Reason" optional={open.length === 0} />
    </EntryForm>
  );
}
