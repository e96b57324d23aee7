import type { ReactNode } from 'react';
import styles from './table.module.css';

export interface Column<R> {
  readonly head: string;
  readonly cell: (row: R) => ReactNode;
  /** Numbers stand at the right, digits under digits. */
  readonly number?: boolean;
}

interface TableProps<R> {
  /** What the table holds, for those who hear it. */
  readonly caption: string;
  readonly columns: readonly Column<R>[];
  readonly rows: readonly R[];
  readonly keyOf: (row: R) => string;
  /** A row taken out of use, shown struck through. */
  readonly struck?: (row: R) => boolean;
}

/** A ruled table; on a phone each row becomes a short list of name and value. The first column names the row. */
export function Table<R>({ caption, columns, rows, keyOf, struck }: TableProps<R>) {
  return (
    <table className={styles.table}>
      <caption className={styles.caption}>{caption}</caption>
      <thead>
        <tr>{columns.map(({ head, number }) => <th key={head} scope="col" data-number={number || undefined}>{head}</th>)}</tr>
      </thead>
      <tbody>
        {rows.map((row) => (
          <tr key={keyOf(row)} data-struck={struck?.(row) || undefined}>
            {columns.map(({ head, cell, number }, index) => {
              const Cell = index === 0 ? 'th' : 'td';
              return (
                <Cell key={head} {...(index === 0 ? { scope: 'row' } : {})} data-number={number || undefined}>
                  <span className={styles.head} aria-hidden="true">{head}</span>
                  <span className={styles.value}>{cell(row)}</span>
                </Cell>
              );
            })}
          </tr>
        ))}
      </tbody>
    </table>
  );
}
