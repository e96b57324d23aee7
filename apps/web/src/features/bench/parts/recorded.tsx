import { memo, useState } from 'react';
import { Link } from 'react-router';
import type { WeighingFieldsFragment } from '../../../generated/graphql.js';
import { useOutbox } from '../../../offline/outbox.js';
import { belongsTo } from '../../../offline/writes.js';
import { AmendWeighingDialog } from '../../../ui/amend-weighing.js';
import { Line, Lines } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { AsEntered } from '../../../ui/quantity.js';
import { amendmentReasonWord, entryModeWord } from '../../../ui/record-words.js';
import { AmendedMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { Action, Empty, Notice, RawLine } from '../../../ui/words.js';
import { WeighingLine } from '../../../ui/weighing.js';
import { AmendReadingDialog } from './amend-reading.js';
import styles from './bench.module.css';
import type { Reading, Run } from './run.js';

type Entry = { readonly at: number } & ({ readonly weighing: WeighingFieldsFragment } | { readonly reading: Reading });

const FIRST = 24;

/** All that was recorded in the run, newest first: weighings, readings, darks and references in one list. */
export function Recorded({ run, onAmended }: { readonly run: Run; readonly onAmended: (() => void) | undefined }) {
  const [all, setAll] = useState(false);
  const [weighing, setWeighing] = useState<WeighingFieldsFragment | null>(null);
  const [reading, setReading] = useState<Reading | null>(null);
  const entries: readonly Entry[] = [
    ...run.weighings.map((each) => ({ at: Date.parse(each.observedAt), weighing: each })),
    ...run.meterReadings.map((each) => ({ at: Date.parse(each.observedAt), reading: each })),
  ].sort((a, b) => b.at - a.at);
  const { waiting } = useOutbox();
  const kept = waiting.filter((each) => belongsTo(each) === run.id).length;
  const keptHere = kept > 0 ? <Notice tone="ask" title={`${kept === 1 ? 'One number is' : `${kept} numbers are`} kept on this computer and not in this list yet.`}>They stand under Not sent yet, in the order of capture.</Notice> : null;
  if (entries.length === 0) return keptHere ?? <Empty title="Nothing has been recorded in this run yet.">Take the dark first.</Empty>;
  return (
    <>
      {keptHere}
      <Lines label="Recorded, newest first">
        {entries.slice(0, all ? undefined : FIRST).map((entry) => 'weighing' in entry
          ? <WeighingRow key={entry.weighing.id} weighing={entry.weighing} replacement={run.weighings.find(({ id }) => id === entry.weighing.amendedBy?.replacementId)} onAmend={onAmended && setWeighing} />
          : <ReadingRow key={entry.reading.id} reading={entry.reading} onAmend={onAmended && setReading} />)}
      </Lines>
      {!all && entries.length > FIRST ? <div><Action kind="plain" onClick={() => setAll(true)}>Show all {entries.length}</Action></div> : null}
      {weighing && onAmended ? <AmendWeighingDialog weighing={weighing} onClose={() => setWeighing(null)} onAmended={onAmended} /> : null}
      {reading && onAmended ? <AmendReadingDialog run={run} reading={reading} onClose={() => setReading(null)} onAmended={onAmended} /> : null}
    </>
  );
}

// The queue changes twice with every mass: lines that say the same are not drawn again while the hand waits for the answer.
const WeighingRow = memo(function WeighingRow({ weighing, replacement, onAmend }: { readonly weighing: WeighingFieldsFragment; readonly replacement: WeighingFieldsFragment | undefined; readonly onAmend: ((weighing: WeighingFieldsFragment) => void) | undefined }) {
  return <WeighingLine weighing={weighing} withDisc replacement={replacement} onAmend={onAmend && !weighing.amendedBy ? () => onAmend(weighing) : undefined} />;
});

const ReadingRow = memo(function ReadingRow({ reading, onAmend }: { readonly reading: Reading; readonly onAmend: ((reading: Reading) => void) | undefined }) {
  return <ReadingLine reading={reading} onAmend={onAmend && !reading.amendedBy ? () => onAmend(reading) : undefined} />;
});

const pathWords = { DARK: 'dark', REFERENCE: 'reference', READING: 'reading' } as const;

function ReadingLine({ reading, onAmend }: { readonly reading: Reading; readonly onAmend: (() => void) | undefined }) {
  const power = <AsEntered text={reading.powerText} unit={reading.powerUnit} exact={reading.powerNw} exactUnit="nW" />;
  const { amendedBy: amendment } = reading;
  return (
    <Line margin={<Moment at={reading.observedAt} />}>
      <div className={styles.readingFirst}>
        {reading.disc ? <Link to={`/samples/disc/${reading.disc.id}`}>{reading.disc.label}</Link> : null}
        <span>{pathWords[reading.lightPath]}</span>
        <strong>{amendment ? <del>{power}</del> : power}</strong>
      </div>
      {amendment ? <div><AmendedMark /> {amendmentReasonWord(amendment.reasonCode)}: “{amendment.reason}”, {amendment.recordedBy.displayName}, <Moment at={amendment.recordedAt} />.</div> : null}
      <div className={styles.origin}>
        <RawLine>{reading.rawLine}</RawLine>
        <span>{entryModeWord(reading.entryMode)}, {reading.recordedBy.displayName}</span>
        <Link to={threadPath('meter_reading', reading.id, 'up')}>Thread up</Link>
        {onAmend ? <Action kind="quiet" onClick={onAmend}>Amend</Action> : null}
      </div>
    </Line>
  );
}
