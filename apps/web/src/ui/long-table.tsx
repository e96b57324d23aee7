import { useWindowVirtualizer } from '@tanstack/react-virtual';
import { useEffect, useLayoutEffect, useRef, useState } from 'react';
import type { ReactNode } from 'react';
import { useInAddress } from './search.js';
import { Cells } from './table.js';
import type { Column } from './table.js';
import table from './table.module.css';
import styles from './long-table.module.css';

export interface SortableColumn<R> extends Column<R> {
  /** The server's name of the order by this column. */
  readonly sort?: string;
}

interface LongTableProps<R> {
  readonly caption: string;
  readonly columns: readonly SortableColumn<R>[];
  readonly rows: readonly R[];
  readonly keyOf: (row: R) => string;
  /** Of all that fit, shown or not. */
  readonly totalCount: number;
  readonly hasMore: boolean;
  /** Asks for the next page; called when the end comes near. */
  readonly more: () => void;
  readonly waiting: boolean;
  readonly chosen?: ReadonlySet<string>;
  readonly onChoose?: (key: string, on: boolean) => void;
  /** What a person calls a row, for the box that chooses it. */
  readonly nameOf?: (row: R) => string;
  readonly struck?: (row: R) => boolean;
}

/** The order of a table, in its address: `sort` is the server's name, `way` is down when it is turned round. */
export function useSort(): { readonly sort: string; readonly descending: boolean; readonly turn: (name: string) => void } {
  const [sort, setSort] = useInAddress('sort');
  const [way, setWay] = useInAddress('way');
  return {
    sort, descending: way === 'down',
    // One after the other: each takes what the other left in the address.
    turn: (name) => {
      if (sort !== name) {
        setSort(name);
        setWay('');
      } else if (way === '') {
        setWay('down');
      } else {
        setSort('');
        setWay('');
      }
    },
  };
}

/** Before the end is in sight, the next page is asked for. */
const ROWS_AHEAD = 60;

/**
 * A table of any length: only the rows in sight are drawn, the next ones are fetched as it is scrolled, and the server
 * sorts. On a phone each row becomes a short list of name and value, as in Table.
 */
export function LongTable<R>(props: LongTableProps<R>) {
  const { caption, columns, rows, keyOf, totalCount, hasMore, more, waiting, chosen, onChoose, nameOf, struck } = props;
  const { sort, descending, turn } = useSort();
  const body = useRef<HTMLTableSectionElement>(null);
  const [top, setTop] = useState(0);
  useLayoutEffect(() => {
    const measure = () => setTop((body.current?.getBoundingClientRect().top ?? 0) + window.scrollY);
    measure();
    window.addEventListener('resize', measure);
    return () => window.removeEventListener('resize', measure);
  }, [rows.length > 0]);
  const rolling = useWindowVirtualizer({ count: rows.length, estimateSize: () => 47, overscan: 12, scrollMargin: top, getItemKey: (index) => keyOf(rows[index]!) });
  const shown = rolling.getVirtualItems();
  const lastShown = shown.at(-1)?.index ?? 0;
  useEffect(() => {
    if (hasMore && !waiting && lastShown >= rows.length - ROWS_AHEAD) more();
  }, [hasMore, waiting, lastShown, rows.length, more]);
  const above = Math.max(0, (shown[0]?.start ?? top) - top);
  const below = Math.max(0, rolling.getTotalSize() - ((shown.at(-1)?.end ?? top) - top));
  const width = columns.length + (onChoose ? 1 : 0);
  const heads: ReactNode = columns.map(({ head, number, sort: name }) => (
    <th key={head} scope="col" data-number={number || undefined} aria-sort={name && sort === name ? (descending ? 'descending' : 'ascending') : undefined}>
      {name ? (
        <button type="button" className={styles.sort} onClick={() => turn(name)}>
          {head}
          <svg viewBox="0 0 10 10" width="10" height="10" aria-hidden="true" data-on={sort === name || undefined}><path d={sort === name && descending ? 'M1 3h8L5 8z' : 'M1 7h8L5 2z'} fill="currentColor" /></svg>
        </button>
      ) : head}
    </th>
  ));
  return (
    <>
      <table className={`${table.table} ${styles.long}`} aria-rowcount={totalCount + 1}>
        <caption className={table.caption}>{caption}</caption>
        <thead className={styles.heads}><tr aria-rowindex={1}>{onChoose ? <td className={styles.box}><span className={styles.unseen}>Chosen</span></td> : null}{heads}</tr></thead>
        <tbody ref={body}>
          {above > 0 ? <tr aria-hidden="true" className={styles.space}><td colSpan={width} style={{ height: above }} /></tr> : null}
          {shown.map(({ index, key }) => {
            const row = rows[index]!;
            return (
              <tr key={key} data-index={index} ref={rolling.measureElement} aria-rowindex={index + 2} data-struck={struck?.(row) || undefined}>
                {onChoose ? (
                  <td className={styles.box}>
                    <label><input type="checkbox" checked={chosen?.has(keyOf(row)) ?? false} onChange={(event) => onChoose(keyOf(row), event.currentTarget.checked)} /><span className={styles.unseen}>Choose {nameOf?.(row) ?? ''}</span></label>
                  </td>
                ) : null}
                <Cells columns={columns} row={row} />
              </tr>
            );
          })}
          {below > 0 ? <tr aria-hidden="true" className={styles.space}><td colSpan={width} style={{ height: below }} /></tr> : null}
        </tbody>
      </table>
      <p className={styles.foot} role="status">{rows.length === totalCount ? `${totalCount} in all` : `${rows.length} of ${totalCount} fetched; more come as you scroll`}</p>
    </>
  );
}
