import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import type { AmendmentReason, DiscState, WeighingFieldsFragment } from '../generated/graphql.js';
import { AmendWeighing, BalanceChoices, RetractWeighing } from './documents.js';
import { EntryForm, useEntry } from './entry.js';
import { AreaField, ChoiceField, MomentField, NumberField, TextField } from './fields.js';
import { newId } from './id.js';
import { recordPath } from './paths.js';
import { amendmentReasonChoices, discStateChoices, massUnits } from './record-words.js';
import { usePayload } from './send.js';
import type { FlagSeen } from './send.js';
import { localInput, momentFromInput } from './time.js';
import { Action, Dialog, Flags, Notice } from './words.js';

interface AmendProps {
  readonly weighing: WeighingFieldsFragment;
  readonly onClose: () => void;
  readonly onAmended: () => void;
}

type Stale = readonly { readonly kind: string; readonly id: string; readonly label: string }[];

/** Amends one weighing: the corrected one is written beside it, the first stays visible, struck through. */
export function AmendWeighingDialog({ weighing, onClose, onAmended }: AmendProps) {
  const [stale, setStale] = useState<Stale | null>(null);
  const [retracting, setRetracting] = useState(false);
  const written = (results: Stale) => {
    setStale(results);
    onAmended();
  };
  return (
    <Dialog title={`Amend weighing of ${weighing.disc.label}, ${weighing.massText} ${weighing.massUnit}`} opened onClose={onClose}>
      {stale ? <Written stale={stale} onClose={onClose} /> : (
        <>
          <p>The weighing is not deleted: it stays on the page, struck through, with your reason and your name. Results that rest on it are marked stale.</p>
          {retracting
            ? <RetractEntry weighing={weighing} onWritten={written} onBack={() => setRetracting(false)} />
            : <AmendEntry weighing={weighing} onWritten={written} onClose={onClose} onRetract={() => setRetracting(true)} />}
        </>
      )}
    </Dialog>
  );
}

function Written({ stale, onClose }: { readonly stale: Stale; readonly onClose: () => void }) {
  return (
    <>
      <Notice tone={stale.length > 0 ? 'ask' : 'calm'} title="The amendment is written.">
        {stale.length === 0 ? 'No result rested on this weighing.' : (
          <>
            <p>These results rested on it and are stale now:</p>
            <ul>{stale.map(({ kind, id, label }) => <li key={id}><Link to={recordPath(kind, id)}>{label}</Link></li>)}</ul>
          </>
        )}
      </Notice>
      <div><Action onClick={onClose}>Close</Action></div>
    </>
  );
}

interface AmendEntryProps {
  readonly weighing: WeighingFieldsFragment;
  readonly onWritten: (stale: Stale) => void;
  readonly onClose: () => void;
  readonly onRetract: () => void;
}

function AmendEntry({ weighing, onWritten, onClose, onRetract }: AmendEntryProps) {
  const send = usePayload();
  const balances = useQuery(BalanceChoices);
  const [amendmentId] = useState(newId);
  const [flags, setFlags] = useState<readonly FlagSeen[]>([]);
  const [initial] = useState({
    massText: weighing.massText, massUnit: weighing.massUnit, state: weighing.state as string, observedAt: localInput(new Date(weighing.observedAt)),
    balanceId: weighing.balance?.id ?? '', reasonCode: 'MISREAD', reason: '', flagAnswer: '',
  });
  const entry = useEntry({
    initial,
    keep: true,
    send: (values, id) => send(AmendWeighing, {
      input: {
        id, discId: weighing.disc.id, state: values.state as DiscState, massText: values.massText.trim(), massUnit: values.massUnit,
        // Untouched, the moment keeps the milliseconds and the offset it was recorded with.
        observedAt: values.observedAt === initial.observedAt ? weighing.observedAt : momentFromInput(values.observedAt),
        balanceId: values.balanceId || null, dryingRunId: weighing.dryingRun?.id ?? null, ovenCycleId: weighing.ovenCycle?.id ?? null,
        entryMode: 'TYPED', rawLine: values.massText.trim(), flagAnswer: values.flagAnswer.trim() || null,
        clockOffsetMs: weighing.clockOffsetMs ?? null,
      },
      amends: { id: amendmentId, targetId: weighing.id, reasonCode: values.reasonCode as AmendmentReason, reason: values.reason.trim() },
    }),
    onRecorded: ({ amendment }) => onWritten(amendment?.staleResults ?? []),
    onRefused: (_problem, payload) => setFlags(payload?.flags ?? []),
  });
  return (
    <EntryForm entry={entry} action="Amend weighing" onCancel={onClose} beside={<Action kind="quiet" onClick={onRetract}>Retract it without a replacement</Action>}>
      <NumberField {...entry.field('massText')} label="Corrected mass" />
      <ChoiceField {...entry.field('massUnit')} label="Unit" choices={massUnits} />
      <ChoiceField {...entry.field('state')} label="State" choices={discStateChoices} />
      <ChoiceField {...entry.field('balanceId')} label="Balance" none="Not known" choices={(balances.data?.instruments ?? []).map(({ id, label }) => ({ value: id, label }))} />
      <MomentField {...entry.field('observedAt')} label="Weighed at" />
      <ChoiceField {...entry.field('reasonCode')} label="Kind of reason" choices={amendmentReasonChoices} />
      <AreaField {...entry.field('reason')} label="Reason" hint="What happened, so that somebody understands it in six years" />
      {flags.length > 0 ? (
        <>
          <Flags flags={flags} />
          <TextField {...entry.field('flagAnswer')} label="Answer to the flags" wide />
        </>
      ) : null}
    </EntryForm>
  );
}

const emptyRetraction = { reasonCode: 'DUPLICATE', reason: '' };

function RetractEntry({ weighing, onWritten, onBack }: { readonly weighing: WeighingFieldsFragment; readonly onWritten: (stale: Stale) => void; readonly onBack: () => void }) {
  const send = usePayload();
  const entry = useEntry({
    initial: emptyRetraction,
    keep: true,
    send: ({ reasonCode, reason }, id) => send(RetractWeighing, {
      input: { id, targetKind: 'weighing', targetId: weighing.id, reasonCode: reasonCode as AmendmentReason, reason: reason.trim() },
    }),
    onRecorded: ({ amendment }) => onWritten(amendment?.staleResults ?? []),
  });
  return (
    <EntryForm entry={entry} action="Retract weighing" onCancel={onBack}>
      <ChoiceField {...entry.field('reasonCode')} label="Kind of reason" choices={amendmentReasonChoices} />
      <AreaField {...entry.field('reason')} label="Reason" hint="Why it counts no longer, and why nothing takes its place" />
    </EntryForm>
  );
}
