import { Link } from 'react-router';
import { kindWord } from '../../../ui/kind-words.js';
import { recordPath, threadPath } from '../../../ui/paths.js';
import { amendmentReasonWord } from '../../../ui/record-words.js';
import { AmendedMark, CheckMark, StaleMark } from '../../../ui/state.js';
import { Dated } from '../../../ui/dated.js';
import { Flags, RawLine } from '../../../ui/words.js';
import { exceptionsOf, usedInstrument } from './exceptions.js';
import type { Node } from './exceptions.js';
import styles from './thread.module.css';

/** What a step rests on (or carries), as words with the way to its line on this page. */
export interface Tie {
  readonly id: string;
  readonly label: string;
}

interface StepProps {
  readonly node: Node;
  readonly ties?: readonly Tie[];
  readonly tiesWord: string;
}

/** More names than this in one line say less, not more. */
const MOST_TIES = 6;

/** Twelve digits tell two records apart; the whole hash is a click on the record's own page away. */
const shortHash = (hash: string): string => hash.slice(0, 12);

const opens = (node: Node): boolean => !recordPath(node.kind, node.id).startsWith('/thread/');

/** One line of the thread: when, what, with what, by whom, and what is to be read with it. */
export function Step({ node, ties = [], tiesWord }: StepProps) {
  const { kind, id, label, amendedBy: amendment } = node;
  const exceptions = exceptionsOf(node);
  return (
    <li className={styles.step} id={`step-${id}`} data-exception={exceptions.length > 0 || undefined} data-kind={kind}>
      <div className={styles.when}><Dated at={node.observedAt ?? node.recordedAt} />{node.observedAt ? null : <small>recorded</small>}</div>
      <div className={styles.bead} aria-hidden="true" />
      <div className={styles.what}>
        <p className={styles.told}>
          <strong>{opens(node) ? <Link to={recordPath(kind, id)}>{label}</Link> : label}</strong>
          <span className={amendment ? styles.outOfUse : undefined}>{node.summary}</span>
          {node.rawLine ? <RawLine>{node.rawLine}</RawLine> : null}
        </p>
        {node.stale ? <StaleMark /> : null}
        {amendment ? (
          <p className={styles.amended}>
            <AmendedMark /> {amendmentReasonWord(amendment.reasonCode)}: “{amendment.reason}”, {amendment.recordedBy.displayName}, <Dated at={amendment.recordedAt} />.{' '}
            {amendment.replacementId ? <Link to={threadPath(kind, amendment.replacementId, 'up')}>What took its place</Link> : 'Retracted, without a replacement.'}
          </p>
        ) : null}
        <Flags flags={node.remarks.map((remark, index) => ({ ...remark, code: `${remark.code} ${index}` }))} />
        {exceptions.length > 0 ? <p className={styles.exceptions}>{exceptions.join(', ')}</p> : null}
        {ties.length > 0 ? <p className={styles.ties}>{tiesWord} {ties.slice(0, MOST_TIES).map(({ id: to, label: name }, index) => <span key={to}>{index > 0 ? ', ' : ''}<a href={`#step-${to}`}>{name}</a></span>)}{ties.length > MOST_TIES ? ` and ${ties.length - MOST_TIES} more` : ''}</p> : null}
        <div className={styles.origin}>
          <span>{node.recordedBy.displayName}{node.throughToken ? ` through token ${node.throughToken}` : ''}</span>
          {node.instrument && kind !== 'instrument' ? <span>{node.instrument}{usedInstrument(node) ? ' ' : ''}{usedInstrument(node) && node.instrumentStatusThen ? <CheckMark status={node.instrumentStatusThen} then /> : null}</span> : null}
          <code title={`SHA-256 of its content: ${node.contentHash}`}>{shortHash(node.contentHash)}</code>
          <span className={`${styles.ways} no-print`}>
            <Link to={threadPath(kind, id, 'down')} aria-label={`Thread down from this ${kindWord(kind)}, ${label}`}>Down</Link>
            <Link to={threadPath(kind, id, 'up')} aria-label={`Thread up from this ${kindWord(kind)}, ${label}`}>Up</Link>
            <Link to={`/ledger/entry/${id}`} aria-label={`Proof of this ${kindWord(kind)}, ${label}`}>Proof</Link>
          </span>
        </div>
      </div>
    </li>
  );
}
