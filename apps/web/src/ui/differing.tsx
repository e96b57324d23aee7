import { Link } from 'react-router';
import type { RecomputeThreadQuery } from '../generated/graphql.js';
import styles from './differing.module.css';
import { kindWord } from './kind-words.js';
import { recordPath } from './paths.js';
import { Table } from './table.js';

type Step = RecomputeThreadQuery['recompute']['steps'][number];

/** A result that came out otherwise when it was computed again: each value, then and now. */
export function Differing({ step }: { readonly step: Omit<Step, 'same'> }) {
  return (
    <div>
      <h3 className={styles.head}><Link to={recordPath(step.kind, step.id)}>{step.label}</Link> <small>{kindWord(step.kind)}, computed then by {step.codeVersionThen}</small></h3>
      <Table caption={`Differences of ${step.label}`} rows={step.differences} keyOf={({ path }) => path} columns={[
        { head: 'Value', cell: ({ path }) => <code>{path}</code> },
        { head: 'Then', cell: ({ then }) => <code>{then ?? 'none'}</code> },
        { head: 'Now', cell: ({ now }) => <code>{now ?? 'none'}</code> },
      ]} />
    </div>
  );
}
