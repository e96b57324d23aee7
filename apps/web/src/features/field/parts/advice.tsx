import { Link } from 'react-router';
import type { Advice, StandingFieldsFragment } from '../../../generated/graphql.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { InstallationMark } from '../../../ui/state.js';
import styles from './field.module.css';

/** What a rule says, as a person would. */
export const adviceWords: Readonly<Record<Advice, string>> = {
  IRRIGATE: 'asks for water', WAIT: 'would ask for water, but waits', LOOK: 'cannot tell: go and look', NONE: 'asks for nothing',
};

const shapes: Readonly<Record<Advice, string>> = {
  IRRIGATE: 'M9 2c3.5 4.4 5.3 6.9 5.3 9.2a5.3 5.3 0 0 1-10.6 0C3.7 8.9 5.5 6.4 9 2Z',
  WAIT: 'M5 2.5h8L9 9l4 6.5H5L9 9Z',
  LOOK: 'M1.5 9C4.5 4.5 13.5 4.5 16.5 9 13.5 13.5 4.5 13.5 1.5 9ZM9 6.8a2.2 2.2 0 1 1 0 4.4 2.2 2.2 0 0 1 0-4.4Z',
  NONE: 'M3 9h12',
};

export function AdviceMark({ advice }: { readonly advice: Advice }) {
  return (
    <span className={styles.advice} data-advice={advice}>
      <svg viewBox="0 0 18 18" width="20" height="20" fill="none" stroke="currentColor" strokeWidth="1.8" aria-hidden="true"><path d={shapes[advice]} /></svg>
      <strong>{adviceWords[advice]}</strong>
    </span>
  );
}

/** The advice, what led to it, and how each unit stands. */
export function Standing({ standing, rule }: { readonly standing: StandingFieldsFragment; readonly rule: { readonly id: string; readonly version: number } | null }) {
  return (
    <div className={styles.whole}>
      <p className={styles.first}><AdviceMark advice={standing.advice} />{rule ? <span><Link to={`/field/rule/${rule.id}`}>rule version {rule.version}</Link>, <Moment at={standing.at} /></span> : null}</p>
      <ul className={styles.reasons}>{standing.reasons.map((reason) => <li key={reason}>{reason}</li>)}</ul>
      <Table caption="How each unit stands" rows={standing.units} keyOf={({ installation }) => installation.id} columns={[
        { head: 'Unit', cell: ({ installation }) => <Link to={`/field/${installation.id}`}>{installation.deviceUnit.label}</Link> },
        { head: 'Latch', cell: ({ tripped }) => <InstallationMark state={tripped ? 'TRIPPED' : 'ARMED'} /> },
        { head: 'Votes', cell: ({ votes }) => (votes ? 'yes' : 'no') },
        { head: 'Last heard of', cell: ({ heardAt, silent }) => <>{heardAt ? <Moment at={heardAt} /> : 'never'}{silent ? <><br /><strong>silent: not wet</strong></> : null}</> },
        { head: 'Remark', cell: ({ remark }) => remark ?? '' },
      ]} />
    </div>
  );
}
