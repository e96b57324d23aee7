import { useState } from 'react';
import type { ReactNode } from 'react';
import { Link } from 'react-router';
import type { WeighingFieldsFragment } from '../generated/graphql.js';
import { AmendWeighingDialog } from './amend-weighing.js';
import { Line, Lines } from './page.js';
import { threadPath } from './paths.js';
import { AsEntered } from './quantity.js';
import { amendmentReasonWord, discStateWord, entryModeWord } from './record-words.js';
import { AmendedMark, CheckMark } from './state.js';
import { Moment } from './time.js';
import { Action, Flags, RawLine } from './words.js';
import styles from './weighing.module.css';

interface WeighingListProps {
  readonly label: string;
  readonly weighings: readonly WeighingFieldsFragment[];
  /** Says which disc, where the list holds several. */
  readonly withDisc?: boolean;
  /** More about one weighing, for example its RWC. */
  readonly beside?: (weighing: WeighingFieldsFragment) => ReactNode;
  /** Set where the person may amend; called after an amendment was written. */
  readonly onAmended?: (() => void) | undefined;
}

/** Weighings in the order given; those out of use stay, struck through, with the reason and the way to what took their place. */
export function WeighingList({ label, weighings, withDisc = false, beside, onAmended }: WeighingListProps) {
  const [amending, setAmending] = useState<WeighingFieldsFragment | null>(null);
  return (
    <>
      <Lines label={label}>
        {weighings.map((weighing) => (
          <WeighingLine key={weighing.id} weighing={weighing} withDisc={withDisc} beside={beside?.(weighing)} replacement={weighings.find(({ id }) => id === weighing.amendedBy?.replacementId)}
            onAmend={onAmended && !weighing.amendedBy ? () => setAmending(weighing) : undefined} />
        ))}
      </Lines>
      {amending && onAmended ? <AmendWeighingDialog weighing={amending} onClose={() => setAmending(null)} onAmended={onAmended} /> : null}
    </>
  );
}

interface WeighingLineProps {
  readonly weighing: WeighingFieldsFragment;
  readonly withDisc?: boolean;
  readonly beside?: ReactNode;
  readonly replacement?: WeighingFieldsFragment | undefined;
  readonly onAmend?: (() => void) | undefined;
}

/** One weighing with its mass, what became of it, its flags and its origin. */
export function WeighingLine({ weighing, withDisc = false, beside, replacement, onAmend }: WeighingLineProps) {
  const { amendedBy: amendment } = weighing;
  const mass = <AsEntered text={weighing.massText} unit={weighing.massUnit} exact={weighing.massMg} exactUnit="mg" />;
  return (
    <Line margin={<Moment at={weighing.observedAt} />}>
      <div className={styles.first} id={`weighing-${weighing.id}`}>
        {withDisc ? <Link to={`/samples/disc/${weighing.disc.id}`}>{weighing.disc.label}</Link> : null}
        <span>{discStateWord(weighing.state)}</span>
        <strong className={styles.mass}>{amendment ? <del>{mass}</del> : mass}</strong>
        {beside}
      </div>
      {amendment ? (
        <div className={styles.amended}>
          <AmendedMark /> {amendmentReasonWord(amendment.reasonCode)}: “{amendment.reason}”, {amendment.recordedBy.displayName}, <Moment at={amendment.recordedAt} />.{' '}
          {replacement ? <a href={`#weighing-${replacement.id}`}>Replaced by {replacement.massText} {replacement.massUnit}</a> : null}
          {!amendment.replacementId ? 'Retracted, without a replacement.' : null}
        </div>
      ) : null}
      <Flags flags={weighing.flags} answer={weighing.flagAnswer} />
      {weighing.overrideReason ? <p>Used though not in check: “{weighing.overrideReason}”</p> : null}
      <div className={styles.origin}>
        <RawLine>{weighing.rawLine}</RawLine>
        <span>{entryModeWord(weighing.entryMode)}, {weighing.recordedBy.displayName}</span>
        {weighing.balance ? <span>on {weighing.balance.label}</span> : <span>balance not known</span>}
        {weighing.balanceStatusThen && weighing.balanceStatusThen !== 'IN_CHECK' ? <CheckMark status={weighing.balanceStatusThen} then /> : null}
        {weighing.balanceStatusThen === 'IN_CHECK' ? <span>in check then</span> : null}
        <Link to={threadPath('weighing', weighing.id, 'up')}>Thread up</Link>
        {onAmend ? <Action kind="quiet" onClick={onAmend}>Amend</Action> : null}
      </div>
    </Line>
  );
}
