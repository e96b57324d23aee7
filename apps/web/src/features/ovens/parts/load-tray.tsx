import { useState } from 'react';
import { ScanField } from '../../../ui/scan-field.js';
import { Action, Empty, Notice } from '../../../ui/words.js';
import { TrayGrid } from './tray-map.js';

export interface Loaded {
  readonly discId: string;
  readonly label: string;
  readonly row: number;
  readonly column: number;
}

interface Tray {
  readonly loaded: readonly Loaded[];
  readonly set: (loaded: readonly Loaded[]) => void;
  readonly clear: () => void;
}

const KEPT = 'threadleaf.oven-tray';

function kept(): readonly Loaded[] {
  try {
    return JSON.parse(localStorage.getItem(KEPT) ?? '[]') as readonly Loaded[];
  } catch {
    return [];
  }
}

/** What lies on the tray before the cycle is started: a tab that is closed, or a browser that crashes, loses nothing. */
export function useTray(): Tray {
  const [loaded, setLoaded] = useState(kept);
  const set = (next: readonly Loaded[]) => {
    localStorage.setItem(KEPT, JSON.stringify(next));
    setLoaded(next);
  };
  return { loaded, set, clear: () => set([]) };
}

/** The next place that nothing lies on, row by row. */
export function freePlace(loaded: readonly Loaded[], rows: number, columns: number): { readonly row: number; readonly column: number } | null {
  for (let place = 0; place < rows * columns; place += 1) {
    const [row, column] = [Math.floor(place / columns) + 1, (place % columns) + 1];
    if (!loaded.some((each) => each.row === row && each.column === column)) return { row, column };
  }
  return null;
}

export function LoadTray({ tray, rows, columns }: { readonly tray: Tray; readonly rows: number; readonly columns: number }) {
  const [told, setTold] = useState('');
  const [asks, setAsks] = useState<string | null>(null);
  const { loaded, set } = tray;
  const outside = loaded.filter(({ row, column }) => row > rows || column > columns);
  const lay = ({ id, label }: { readonly id: string; readonly label: string }) => {
    const there = loaded.find(({ discId }) => discId === id);
    const place = freePlace(loaded, rows, columns);
    if (there) return setAsks(`${label} lies in row ${there.row}, column ${there.column} already.`);
    if (!place) return setAsks(`The tray is full: ${label} was not taken. Give it more rows or columns.`);
    setAsks(null);
    setTold(`${label}: row ${place.row}, column ${place.column}.`);
    set([...loaded, { discId: id, label, ...place }]);
  };
  return (
    <>
      <ScanField label="Scan a disc onto the tray" kinds={['disc']} onFound={lay} />
      <p role="status"><strong>{told}</strong></p>
      {asks ? <Notice tone="ask" title={asks} /> : null}
      {outside.length > 0 ? <Notice tone="alarm" title={`${outside.map(({ label }) => label).join(', ')} would lie outside of a tray of ${rows} by ${columns}.`}>Give it more rows or columns, or take them off.</Notice> : null}
      {loaded.length === 0 ? <Empty title="Nothing lies on the tray yet." /> : (
        <TrayGrid rows={rows} columns={columns} caption="The tray as it is loaded" at={(row, column) => {
          const here = loaded.find((each) => each.row === row && each.column === column);
          return here ? <>{here.label}<br /><Action kind="quiet" onClick={() => set(loaded.filter(({ discId }) => discId !== here.discId))}>Take off {here.label}</Action></> : null;
        }} />
      )}
    </>
  );
}
