import { useState } from 'react';
import { Link } from 'react-router';
import type { CustodyFieldsFragment, SampleAmendmentFieldsFragment, SampleKind, SampleLossFieldsFragment, SampleLossOutcome } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, NumberField, TextField } from '../../../ui/fields.js';
import { newId } from '../../../ui/id.js';
import { Line, Lines } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { Moment } from '../../../ui/time.js';
import { Action, Dialog, Notice } from '../../../ui/words.js';
import { AmendSample, RetractFact } from '../documents.js';
import { placeName } from './place-words.js';
import styles from './samples.module.css';

export const sideChoices = [{ value: 'ADAXIAL_UP', label: 'upper (adaxial)' }, { value: 'ABAXIAL_UP', label: 'lower (abaxial)' }] as const;
export const sideWord = (side: string | null | undefined): string => sideChoices.find(({ value }) => value === side)?.label ?? 'not told';

/** Lost or destroyed: a word with a shape of its own. */
export function LossMark({ outcome }: { readonly outcome: SampleLossOutcome }) {
  return (
    <span className={styles.lost}>
      <svg viewBox="0 0 12 12" width="12" height="12" aria-hidden="true"><path d={outcome === 'LOST' ? 'M6 1a5 5 0 1 0 0 10A5 5 0 0 0 6 1zM4 4h2.5v2H6v1.5M6 8.5v1' : 'M1 1l10 10M11 1L1 11'} fill="none" stroke="currentColor" strokeWidth="1.8" /></svg>
      {outcome === 'LOST' ? 'lost' : 'destroyed'}
    </span>
  );
}

interface Held {
  readonly place?: { readonly id: string; readonly label: string } | null;
  readonly recordedBy: { readonly displayName: string };
}

export function whereText(custody: Held | null | undefined) {
  if (!custody) return 'not told';
  return custody.place ? <Link to={`/samples/place/${custody.place.id}`}>{custody.place.label}</Link> : `with ${custody.recordedBy.displayName}`;
}

/** Where a sample is, and since when. */
export function Where({ custody }: { readonly custody: CustodyFieldsFragment | null | undefined }) {
  if (!custody) return <>not told</>;
  return <>{custody.place ? <Link to={`/samples/place/${custody.place.id}`}>{placeName(custody.place)}</Link> : `with ${custody.recordedBy.displayName}`}, since <Moment at={custody.movedAt} /></>;
}

export const Code = ({ children }: { readonly children: string }) => <span className={styles.code}>{`${children.slice(0, 5)}-${children.slice(5, 10)}-${children.slice(10)}`}</span>;

const fieldWords: Readonly<Record<string, string>> = {
  cultivar: 'Cultivar', treatment: 'Treatment', position: 'Position', growthStage: 'Growth stage', leafSide: 'Side up', diameterMm: 'Punch, mm',
};
const valueWord = (field: string, value: string | null | undefined): string => (value ? (field === 'leafSide' ? sideWord(value) : value) : 'not told');

/** What was corrected in a description, what stood there before, and why. */
export function Corrections({ amendments }: { readonly amendments: readonly SampleAmendmentFieldsFragment[] }) {
  if (amendments.length === 0) return null;
  return (
    <Lines label="Corrections of the description">
      {amendments.map(({ id, recordedAt, recordedBy, reason, changes }) => (
        <Line key={id} margin={<Moment at={recordedAt} />}>
          {changes.map(({ field, was, becomes }) => <span key={field}>{fieldWords[field] ?? field}: <del>{valueWord(field, was)}</del> {valueWord(field, becomes)}</span>)}
          <span>“{reason}”, {recordedBy.displayName}</span>
        </Line>
      ))}
    </Lines>
  );
}

interface LossNoticeProps {
  readonly what: string;
  readonly loss: SampleLossFieldsFragment | null | undefined;
  readonly mayRetract: boolean;
  readonly onFound: () => void;
}

/** A sample that is not there any more, and the way back when it is found. */
export function LossNotice({ what, loss, mayRetract, onFound }: LossNoticeProps) {
  const send = usePayload();
  const entry = useEntry({
    initial: { reason: '' },
    send: ({ reason }, id) => send(RetractFact, { input: { id, targetKind: 'sample_loss', targetId: loss?.id ?? '', reasonCode: 'OTHER', reason } }),
    onRecorded: onFound,
  });
  const [asking, setAsking] = useState(false);
  if (!loss) return null;
  return (
    <Notice tone="alarm" title={`${what} is ${loss.outcome === 'LOST' ? 'lost' : 'destroyed'}.`}>
      <p>“{loss.reason}” Noticed <Moment at={loss.noticedAt} />, told by {loss.recordedBy.displayName}.</p>
      {mayRetract && !asking ? <p><Action kind="plain" onClick={() => setAsking(true)}>It is there after all</Action></p> : null}
      {asking ? <EntryForm entry={entry} action="Take the loss back" onCancel={() => setAsking(false)}><AreaField {...entry.field('reason')} label="How it came" rows={2} /></EntryForm> : null}
    </Notice>
  );
}

interface AmendDescriptionProps {
  readonly kind: SampleKind;
  readonly id: string;
  readonly label: string;
  /** Columns that only describe, with what stands now. */
  readonly standing: Readonly<Record<string, string | null | undefined>>;
  readonly onAmended: () => void;
}

/** A correction of what only describes a sample; the original stays in sight. */
export function AmendDescription({ kind, id, label, standing, onAmended }: AmendDescriptionProps) {
  const [opened, setOpened] = useState(false);
  return (
    <>
      <Action kind="plain" onClick={() => setOpened(true)}>Correct the description</Action>
      <Dialog title={`Correct the description of ${label}`} opened={opened} onClose={() => setOpened(false)}>
        <AmendEntry kind={kind} id={id} standing={standing} onClose={() => setOpened(false)} onAmended={() => { setOpened(false); onAmended(); }} />
      </Dialog>
    </>
  );
}

function AmendEntry({ kind, id: subjectId, standing, onClose, onAmended }: Omit<AmendDescriptionProps, 'label'> & { readonly onClose: () => void }) {
  const send = usePayload();
  const [initial] = useState(() => ({ ...Object.fromEntries(Object.entries(standing).map(([name, value]) => [name, value ?? ''])), reason: '' }) as Record<string, string>);
  const entry = useEntry({
    initial,
    send: (values, amendmentId) => {
      const changed = Object.keys(standing).filter((name) => (values[name] ?? '').trim() !== (standing[name] ?? ''));
      const becomes = Object.fromEntries(changed.map((name) => [name, orNull(name === 'diameterMm' ? decimalText(values[name] ?? '') : (values[name] ?? ''))]));
      return send(AmendSample, { input: { id: amendmentId, subjectKind: kind, subjectId, reason: values['reason'] ?? '', ...becomes } });
    },
    onRecorded: onAmended,
  });
  const bound = (name: string) => ({ ...entry.field(name), value: entry.values[name] ?? '' });
  return (
    <EntryForm entry={entry} action="Record correction" onCancel={onClose}>
      {Object.keys(standing).map((name) => {
        const title = fieldWords[name] ?? name;
        if (name === 'leafSide') return <ChoiceField key={name} {...bound(name)} label={title} none="not told" choices={sideChoices} optional />;
        return name === 'diameterMm' ? <NumberField key={name} {...bound(name)} label={title} optional /> : <TextField key={name} {...bound(name)} label={title} optional />;
      })}
      <AreaField {...bound('reason')} label="What was wrong" hint="What was recorded stays in sight beside it." rows={2} />
    </EntryForm>
  );
}

export const itemsOf = (subjects: readonly { readonly kind: string; readonly id: string }[], ids: readonly string[]) =>
  subjects.map(({ kind, id }, i) => ({ id: ids[i] ?? newId(), subjectKind: kind.toUpperCase(), subjectId: id }));
