import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { useOnScreen, useOutbox } from '../../../offline/outbox.js';
import { BalanceChoices } from '../../../ui/documents.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { ChoiceField, NumberField, TextField } from '../../../ui/fields.js';
import { massUnits } from '../../../ui/record-words.js';
import type { FlagSeen, Sent } from '../../../ui/send.js';
import { CheckMark } from '../../../ui/state.js';
import { Flags } from '../../../ui/words.js';
import type { Cycle } from './cycle.js';

interface CheckWeighingEntryProps {
  readonly cycle: Cycle;
  readonly onRecorded: () => void;
}

type Written = { readonly kept: boolean; readonly flags: readonly FlagSeen[] };

/** Weighs one disc of the cycle as a check towards constant mass; the next disc that lacks one is offered by itself. */
export function CheckWeighingEntry({ cycle, onRecorded }: CheckWeighingEntryProps) {
  const outbox = useOutbox();
  const balances = useQuery(BalanceChoices);
  const [told, setTold] = useState('');
  const [flags, setFlags] = useState<readonly FlagSeen[]>([]);
  const waiting = cycle.constantMass.filter(({ reached }) => !reached);
  const [initial] = useState({ discId: waiting[0]?.disc.id ?? cycle.discs[0]?.id ?? '', massText: '', massUnit: 'mg', balanceId: '', flagAnswer: '', overrideReason: '' });
  const [notInCheck, setNotInCheck] = useState(false);
  const disc = (id: string) => cycle.discs.find((each) => each.id === id);
  const entry = useEntry({
    initial,
    keep: true,
    send: async (values, id, observedAt): Promise<Sent<Written>> => {
      const sent = await outbox.record({
        kind: 'weighing',
        input: {
          id, discId: values.discId, state: 'DRY', observedAt, massText: values.massText.trim(), massUnit: values.massUnit, balanceId: values.balanceId || null,
          dryingRunId: null, ovenCycleId: cycle.id, entryMode: 'TYPED', rawLine: values.massText.trim(), flagAnswer: values.flagAnswer.trim() || null, overrideReason: notInCheck ? values.overrideReason.trim() || null : null,
        },
      }, `${disc(values.discId)?.label ?? ''}, dry, ${values.massText.trim()} ${values.massUnit}`);
      if (sent.outcome === 'kept') return { outcome: 'recorded', payload: { kept: true, flags: [] } };
      if (sent.outcome === 'refused') return { ...sent, payload: { kept: false, flags: sent.payload?.flags ?? [] } };
      return sent.outcome === 'not-sent' ? sent : { outcome: 'recorded', payload: { kept: false, flags: [] } };
    },
    onRecorded: ({ kept }) => {
      const { discId, massText, massUnit } = entry.values;
      setTold(`${kept ? 'Kept on this computer, not sent yet' : 'Recorded'}: ${disc(discId)?.label ?? ''}, dry, ${massText.trim()} ${massUnit}.`);
      setFlags([]);
      const at = cycle.discs.findIndex(({ id }) => id === discId);
      const next = [...cycle.discs.slice(at + 1), ...cycle.discs.slice(0, at + 1)].find(({ id }) => waiting.some((each) => each.disc.id === id));
      entry.clear({ ...entry.values, massText: '', flagAnswer: '', discId: next?.id ?? discId });
      onRecorded();
    },
    onRefused: (problem, payload) => {
      setFlags(payload?.flags ?? []);
      // Only the server knows the protocol of the run that the disc was in.
      if (problem.field === 'overrideReason') setNotInCheck(true);
    },
  });
  useOnScreen(entry.id);
  const balance = balances.data?.instruments.find(({ id }) => id === entry.values.balanceId);
  return (
    <>
      <EntryForm entry={entry} action="Record check weighing" disabled={entry.values.massText.trim() === '' || entry.values.balanceId === ''}>
        <ChoiceField {...entry.field('discId')} label="Disc" choices={cycle.discs.map(({ id, label }) => ({ value: id, label }))} />
        <ChoiceField {...entry.field('balanceId')} label="Balance" none="Choose a balance" choices={(balances.data?.instruments ?? []).map(({ id, label }) => ({ value: id, label }))}
          hint={balance ? <CheckMark status={balance.checkStatus} /> : 'The one that weighed it turgid'} />
        <NumberField {...entry.field('massText')} label="Dry mass" />
        <ChoiceField {...entry.field('massUnit')} label="Unit" choices={massUnits} />
        {notInCheck ? <TextField {...entry.field('overrideReason')} label={`Why ${balance?.label ?? 'this balance'} is used all the same`} hint="Kept with the weighing, and shown in its Thread" wide /> : null}
        {flags.length > 0 ? (
          <>
            <Flags flags={flags} />
            <TextField {...entry.field('flagAnswer')} label="Your answer to what it asks" wide />
          </>
        ) : null}
      </EntryForm>
      <p role="status"><strong>{told}</strong></p>
    </>
  );
}
