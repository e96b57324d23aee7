import { useState } from 'react';
import type { AmendmentReason } from '../../../generated/graphql.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, NumberField } from '../../../ui/fields.js';
import { newId } from '../../../ui/id.js';
import { amendmentReasonChoices, powerUnits } from '../../../ui/record-words.js';
import { usePayload } from '../../../ui/send.js';
import { Dialog } from '../../../ui/words.js';
import { AmendMeterReading } from '../documents.js';
import type { Reading, Run } from './run.js';

interface AmendReadingProps {
  readonly run: Run;
  readonly reading: Reading;
  readonly onClose: () => void;
  readonly onAmended: () => void;
}

/** Amends one dark, reference or reading; the first stays visible, struck through. */
export function AmendReadingDialog({ run, reading, onClose, onAmended }: AmendReadingProps) {
  const send = usePayload();
  const [amendmentId] = useState(newId);
  const [initial] = useState({ powerText: reading.powerText, powerUnit: reading.powerUnit, discId: reading.disc?.id ?? '', reasonCode: 'MISREAD', reason: '' });
  const entry = useEntry({
    initial,
    keep: true,
    send: ({ powerText, powerUnit, discId, reasonCode, reason }, id) => send(AmendMeterReading, {
      input: {
        id, lightPath: reading.lightPath, observedAt: reading.observedAt, powerText: powerText.trim(), powerUnit, discId: discId || null,
        dryingRunId: run.id, entryMode: 'TYPED', rawLine: powerText.trim(), clockOffsetMs: reading.clockOffsetMs ?? null,
      },
      amends: { id: amendmentId, targetId: reading.id, reasonCode: reasonCode as AmendmentReason, reason: reason.trim() },
    }),
    onRecorded: () => {
      onAmended();
      onClose();
    },
  });
  return (
    <Dialog title={`Amend ${reading.disc ? `reading of ${reading.disc.label}` : reading.lightPath.toLowerCase()}, ${reading.powerText} ${reading.powerUnit}`} opened onClose={onClose}>
      <p>It is not deleted: it stays on the page, struck through, with your reason and your name.</p>
      <EntryForm entry={entry} action="Amend reading" onCancel={onClose}>
        <NumberField {...entry.field('powerText')} label="Corrected power" />
        <ChoiceField {...entry.field('powerUnit')} label="Unit" choices={powerUnits} />
        {reading.lightPath === 'READING' ? <ChoiceField {...entry.field('discId')} label="Disc" choices={run.discs.map(({ id, label }) => ({ value: id, label }))} /> : null}
        <ChoiceField {...entry.field('reasonCode')} label="Kind of reason" choices={amendmentReasonChoices} />
        <AreaField {...entry.field('reason')} label="Reason" hint="What happened, so that somebody understands it in six years" />
      </EntryForm>
    </Dialog>
  );
}
