import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField } from '../../../ui/fields.js';
import { useOutbox } from '../../../offline/outbox.js';
import { belongsTo } from '../../../offline/writes.js';
import { usePayload } from '../../../ui/send.js';
import { Dialog, Notice } from '../../../ui/words.js';
import { CloseDryingRun, ReleaseDryingRun } from '../documents.js';
import type { Run } from './run.js';

interface StepDialogProps {
  readonly run: Run;
  readonly opened: boolean;
  readonly onClose: () => void;
  readonly onStepped: () => void;
}

const empty = { note: '' };

export function CloseRunDialog({ run, opened, onClose, onStepped }: StepDialogProps) {
  return (
    <Dialog title={`Close run ${run.label}`} opened={opened} onClose={onClose}>
      <p>Capture ends. Nothing can be added to the run afterwards, only amended. The discs go to the oven next.</p>
      <CloseEntry run={run} onClose={onClose} onStepped={onStepped} />
    </Dialog>
  );
}

function CloseEntry({ run, onClose, onStepped }: Omit<StepDialogProps, 'opened'>) {
  const send = usePayload();
  const { waiting } = useOutbox();
  const unsent = waiting.filter((kept) => belongsTo(kept) === run.id).length;
  const entry = useEntry({ initial: empty, keep: true, send: ({ note }, id) => send(CloseDryingRun, { input: { id, dryingRunId: run.id, note: orNull(note) } }), onRecorded: onStepped });
  return (
    <EntryForm entry={entry} action="Close run" onCancel={onClose} disabled={unsent > 0}>
      {unsent > 0 ? <Notice tone="alarm" title={`${unsent} of its writes are not sent yet.`}>A closed run takes no more: send them, or set aside what was refused, then close it.</Notice> : null}
      <AreaField {...entry.field('note')} label="Note" optional />
    </EntryForm>
  );
}

export function ReleaseRunDialog({ run, opened, onClose, onStepped }: StepDialogProps) {
  return (
    <Dialog title={`Release run ${run.label}`} opened={opened} onClose={onClose}>
      <p>The RWC series of every disc is computed from its standing weighings, and the run may be used by calibrations. Each disc needs its turgid and its dry mass.</p>
      <ReleaseEntry run={run} onClose={onClose} onStepped={onStepped} />
    </Dialog>
  );
}

function ReleaseEntry({ run, onClose, onStepped }: Omit<StepDialogProps, 'opened'>) {
  const send = usePayload();
  const entry = useEntry({ initial: empty, keep: true, send: ({ note }, id) => send(ReleaseDryingRun, { input: { id, dryingRunId: run.id, note: orNull(note) } }), onRecorded: onStepped });
  return (
    <EntryForm entry={entry} action="Release run" onCancel={onClose}>
      <AreaField {...entry.field('note')} label="Note" optional />
    </EntryForm>
  );
}
