import type { SampleKind, SampleLossOutcome } from '../../../generated/graphql.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { AreaField, SegmentField } from '../../../ui/fields.js';
import { usePayload } from '../../../ui/send.js';
import { RecordSampleLoss } from '../documents.js';
import { useBatchIds } from './batch-ids.js';

export interface Subject {
  readonly kind: 'plant' | 'leaf' | 'disc';
  readonly id: string;
  readonly label: string;
}

const outcomes: readonly { readonly value: SampleLossOutcome; readonly label: string }[] = [{ value: 'LOST', label: 'Lost' }, { value: 'DESTROYED', label: 'Destroyed' }];

/** Tells that samples are not there any more. Nothing is removed. */
export function LossEntry({ subjects, onClose, onRecorded }: { readonly subjects: readonly Subject[]; readonly onClose: () => void; readonly onRecorded: () => void }) {
  const send = usePayload();
  const idsFor = useBatchIds();
  const entry = useEntry({
    initial: { outcome: 'LOST', reason: '' },
    send: ({ outcome, reason }, id, at) => {
      const ids = idsFor(id, subjects.length);
      const losses = subjects.map((subject, i) => ({ id: ids[i]!, subjectKind: subject.kind.toUpperCase() as SampleKind, subjectId: subject.id }));
      return send(RecordSampleLoss, { input: { losses, outcome: outcome as SampleLossOutcome, noticedAt: at, reason } });
    },
    onRecorded,
  });
  return (
    <>
      <p>{subjects.map(({ label }) => label).join(', ')}</p>
      <EntryForm entry={entry} action="Record it" onCancel={onClose}>
        <SegmentField {...entry.field('outcome')} label="What happened" choices={outcomes} wide />
        <AreaField {...entry.field('reason')} label="How" hint="Everything recorded of it stays; it is only told that it is not there any more." />
      </EntryForm>
    </>
  );
}
