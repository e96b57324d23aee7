import type { ReactNode } from 'react';
import { Link } from 'react-router';
import { DoneMark } from '../../../ui/state.js';
import type { Cycle } from './cycle.js';
import styles from './ovens.module.css';

interface TrayGridProps {
  readonly rows: number;
  readonly columns: number;
  readonly caption: string;
  readonly at: (row: number, column: number) => ReactNode;
}

const upTo = (count: number): readonly number[] => Array.from({ length: Math.min(count, 40) }, (_, i) => i + 1);

/** A tray as one looks down on it. */
export function TrayGrid({ rows, columns, caption, at }: TrayGridProps) {
  return (
    <div className={styles.scroll} role="region" aria-label={caption} tabIndex={0}>
      <table className={styles.tray}>
        <caption className={styles.unseen}>{caption}</caption>
        <thead><tr><td />{upTo(columns).map((column) => <th key={column} scope="col">{column}</th>)}</tr></thead>
        <tbody>{upTo(rows).map((row) => <tr key={row}><th scope="row">{row}</th>{upTo(columns).map((column) => <td key={column}>{at(row, column)}</td>)}</tr>)}</tbody>
      </table>
    </div>
  );
}

/** Which disc lies where, and which of them are dry. */
export function TrayMap({ cycle }: { readonly cycle: Cycle }) {
  return (
    <TrayGrid rows={cycle.trayRows ?? 1} columns={cycle.trayColumns ?? 1} caption={`Tray of cycle ${cycle.label}`} at={(row, column) => {
      const here = cycle.trayMap.find((each) => each.row === row && each.column === column);
      if (!here) return null;
      const mass = cycle.constantMass.find(({ disc }) => disc.id === here.disc.id);
      const state = mass?.disc.loss ? mass.disc.loss.outcome.toLowerCase() : mass?.reached ? 'dry' : 'drying';
      return <><Link to={`/samples/disc/${here.disc.id}`}>{here.disc.label}</Link><br /><DoneMark done={mass?.reached ?? false} word={state} /></>;
    }} />
  );
}
