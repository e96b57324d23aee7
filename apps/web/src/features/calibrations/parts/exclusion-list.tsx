import { useMemo, useState } from 'react';
import { TextField } from '../../../ui/fields.js';
import { Rwc, Uncertain } from '../../../ui/quantity.js';
import type { ProblemSeen } from '../../../ui/send.js';
import styles from './calibrations.module.css';

/** A reading as one looks at it to leave it out. */
export interface ReadingShown {
  readonly meterReadingId: string;
  readonly leaf: string;
  readonly rwc: number;
  readonly uRwc: number;
  readonly transmittance: number;
  readonly uTransmittance: number;
  /** What else is to be known of it. */
  readonly beside: string;
}

interface ExclusionListProps {
  readonly points: readonly ReadingShown[];
  /** By meter reading: why it stays out. A reading without a key is in. */
  readonly reasons: Readonly<Record<string, string>>;
  readonly onChange: (reasons: Readonly<Record<string, string>>) => void;
  readonly problemAt: string | null;
  readonly problem: ProblemSeen | null;
  /** What becomes of the figures. */
  readonly told?: string;
}

/** So many leaves stand open from the start; more are opened one by one. */
const OPEN_MOST = 8;

/** Every reading, leaf by leaf, with the way to leave it out: never without a reason, which stays with the version. */
export function ExclusionList({ points, reasons, onChange, problemAt, problem, told }: ExclusionListProps) {
  const leaves = useMemo(() => {
    const byLeaf = new Map<string, ReadingShown[]>();
    for (const point of points) byLeaf.set(point.leaf, [...(byLeaf.get(point.leaf) ?? []), point]);
    return [...byLeaf].sort(([a], [b]) => a.localeCompare(b, undefined, { numeric: true }));
  }, [points]);
  const [turned, setTurned] = useState<ReadonlySet<string>>(new Set());
  const openAtFirst = leaves.length <= OPEN_MOST;
  const toggle = (id: string) => {
    const { [id]: was, ...rest } = reasons;
    onChange(was === undefined ? { ...reasons, [id]: '' } : rest);
  };
  const turn = (leaf: string) => setTurned((before) => new Set(before.has(leaf) ? [...before].filter((one) => one !== leaf) : [...before, leaf]));
  return (
    <div className={styles.out}>
      <h3>Leave readings out</h3>
      <p>Tick a reading to leave it out, and say why. It stays in the record and on the drawing, crossed; {told ?? 'figures are shown with and without it.'}</p>
      <div className={styles.exclusions} role="group" aria-label="Leave readings out" tabIndex={0}>
        {leaves.map(([leaf, own]) => {
          const open = openAtFirst !== turned.has(leaf);
          const out = own.filter(({ meterReadingId }) => reasons[meterReadingId] !== undefined).length;
          return (
            <section key={leaf} aria-label={`Leaf ${leaf}`}>
              <h4><button type="button" className={styles.leafHead} aria-expanded={open} onClick={() => turn(leaf)}>Leaf {leaf}: {own.length} readings{out > 0 ? `, ${out} left out` : ''}</button></h4>
              {open ? (
                <ul>
                  {own.map((row) => {
                    const reason = reasons[row.meterReadingId];
                    const isOut = reason !== undefined;
                    return (
                      <li key={row.meterReadingId} data-out={isOut || undefined}>
                        <label>
                          <input type="checkbox" checked={isOut} onChange={() => toggle(row.meterReadingId)} />
                          <span>RWC <Rwc value={row.rwc} u={row.uRwc} />, transmittance <Uncertain value={row.transmittance} u={row.uTransmittance} unit="" />{row.beside}</span>
                        </label>
                        {isOut ? <TextField name={`reason-${row.meterReadingId}`} label="Reason for leaving it out" value={reason} onChange={(text) => onChange({ ...reasons, [row.meterReadingId]: text })} problem={problemAt === row.meterReadingId ? problem : null} autoFocus /> : null}
                      </li>
                    );
                  })}
                </ul>
              ) : null}
            </section>
          );
        })}
      </div>
    </div>
  );
}
