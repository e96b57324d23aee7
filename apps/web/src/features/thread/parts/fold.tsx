import { useState } from 'react';
import type { ReactNode } from 'react';
import { Dated } from '../../../ui/dated.js';
import { Action } from '../../../ui/words.js';
import type { Entry } from './chapters.js';
import { isException } from './exceptions.js';
import type { Node } from './exceptions.js';
import { Step } from './step.js';
import styles from './thread.module.css';

/** So many lines are drawn at once; a fold of thousands opens as quickly as one of ten. */
const AT_ONCE = 100;

interface FoldProps {
  readonly title: string;
  readonly nodes: readonly Node[];
  readonly tiesWord: string;
  readonly openFirst: boolean;
}

interface GroupFoldProps {
  readonly title: string;
  readonly entries: readonly Entry[];
  readonly openFirst: boolean;
  readonly children: ReactNode;
}

const nodesOf = (entries: readonly Entry[]): readonly Node[] => entries.flatMap((entry) => (entry.sort === 'step' ? [entry.node] : entry.nodes));

/** One leaf among many, in one line: what belongs to it opens on demand. */
export function GroupFold({ title, entries, openFirst, children }: GroupFoldProps) {
  const [opened, setOpened] = useState(openFirst);
  const nodes = nodesOf(entries);
  const exceptions = nodes.filter(isException).length;
  return (
    <details className={styles.groupFold} open={opened} onToggle={(event) => setOpened(event.currentTarget.open)}>
      <summary className={styles.foldTitle}>
        <strong>{title}</strong>
        <span>{nodes.length} {nodes.length === 1 ? 'step' : 'steps'}</span>
        {exceptions > 0 ? <span className={styles.exceptions}>{exceptions} {exceptions === 1 ? 'exception' : 'exceptions'}</span> : null}
      </summary>
      {opened ? children : null}
    </details>
  );
}

/** Many steps of one sort in one line: how many, of what, from when to when, and how many of them are exceptions. Opens on demand. */
export function Fold({ title, nodes, tiesWord, openFirst }: FoldProps) {
  const [opened, setOpened] = useState(openFirst);
  const [shown, setShown] = useState(AT_ONCE);
  const first = nodes[0];
  const last = nodes.at(-1);
  const exceptions = nodes.filter(isException).length;
  return (
    <li className={styles.fold}>
      <details open={opened} onToggle={(event) => setOpened(event.currentTarget.open)}>
        <summary data-exception={exceptions > 0 || undefined}>
          <span className={styles.when}>{first?.observedAt ? <Dated at={first.observedAt} /> : null}</span>
          <span className={styles.bead} aria-hidden="true" />
          <span className={styles.foldTitle}>
            <strong>{title}</strong>
            {last?.observedAt && first !== last ? <span>until <Dated at={last.observedAt} /></span> : null}
            {exceptions > 0 ? <span className={styles.exceptions}>{exceptions} {exceptions === 1 ? 'exception' : 'exceptions'}</span> : null}
          </span>
        </summary>
        {opened ? (
          <>
            <ol className={styles.steps} aria-label={title}>{nodes.slice(0, shown).map((node) => <Step key={node.id} node={node} tiesWord={tiesWord} />)}</ol>
            {nodes.length > shown ? <div className={styles.moreSteps}><Action kind="plain" onClick={() => setShown(shown + AT_ONCE)}>{`Show ${Math.min(AT_ONCE, nodes.length - shown)} more of ${nodes.length}`}</Action></div> : null}
          </>
        ) : null}
      </details>
    </li>
  );
}
