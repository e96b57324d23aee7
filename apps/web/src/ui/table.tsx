import { useState } from 'react';
import type { ReactNode } from 'react';
import styles from './table.module.css';
import { Action } from './words.js';

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
  /** A phone shows the first rows of a long table, and all when asked; desk and paper show all. */
  readonly brief?: boolean;
}

/** As many as the style sheet shows of a table that is cut. */
const BRIEF_ROWS = 4;

/** A ruled table; on a phone each row becomes a short list of name and value. The first column names the row. */
export function Table<R>({ caption, columns, rows, keyOf, struck, brief = false }: TableProps<R>) {
  const [all, setAll] = useState(false);
  const cut = brief && !all && rows.length > BRIEF_ROWS + 1;
  return (
    <>
      <table className={styles.table} data-cut={cut || undefined}>
        <caption className={styles.caption}>{caption}</caption>
        <thead>
          <tr>{columns.map(({ head, number }) => <th key={head} scope="col" data-number={number || undefined}>{head}</th>)}</tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={keyOf(row)} data-struck={struck?.(row) || undefined}>
              <Cells columns={columns} row={row} />
            </tr>
          ))}
        </tbody>
      </table>
      {cut ? <div className={styles.rest}><Action kind="plain" onClick={() => setAll(true)}>Show all {rows.length}</Action></div> : null}
    </>
  );
}

/** The cells of one row, the first its head; on a phone each with the head of its column. */
export function Cells<R>({ columns, row }: { readonly columns: readonly Column<R>[]; readonly row: R }) {
  return columns.map(({ head, cell, number }, index) => {
    const Cell = index === 0 ? 'th' : 'td';
    return (
      <Cell key={head} {...(index === 0 ? { scope: 'row' } : {})} data-number={number || undefined}>
        <span className={styles.head} aria-hidden="true">{head}</span>
        <span className={styles.value}>{cell(row)}</span>
      </Cell>
    );
  });
}
