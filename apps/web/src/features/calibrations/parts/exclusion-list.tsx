import { TextField } from '../../../ui/fields.js';
import { Rwc, Uncertain } from '../../../ui/quantity.js';
import type { ProblemSeen } from '../../../ui/send.js';
import styles from './calibrations.module.css';

export interface ReadingRow {
  readonly meterReadingId: string;
  readonly leaf: string;
  readonly disc: string;
  readonly at: string;
  readonly rwc: number;
  readonly uRwc: number;
  readonly transmittance: number;
  readonly uTransmittance: number;
}

interface ExclusionListProps {
  readonly rows: readonly ReadingRow[];
  /** By meter reading: why it stays out. A reading without a key is in. */
  readonly reasons: Readonly<Record<string, string>>;
  readonly onChange: (reasons: Readonly<Record<string, string>>) => void;
  readonly problemAt: string | null;
  readonly problem: ProblemSeen | null;
}

/** Every reading, leaf by leaf, with the way to leave it out: never without a reason, which stays with the version. */
export function ExclusionList({ rows, reasons, onChange, problemAt, problem }: ExclusionListProps) {
  const leaves = [...new Set(rows.map(({ leaf }) => leaf))].sort((a, b) => a.localeCompare(b, undefined, { numeric: true }));
  const toggle = (id: string) => {
    const { [id]: was, ...rest } = reasons;
    onChange(was === undefined ? { ...reasons, [id]: '' } : rest);
  };
  return (
    <div className={styles.out}>
      <h3>Leave readings out</h3>
      <p>Tick a reading to leave it out, and say why. It stays in the record and on the drawing, crossed.</p>
      <div className={styles.exclusions} role="group" aria-label="Leave readings out" tabIndex={0}>
        {leaves.map((leaf) => (
          <section key={leaf} aria-label={`Leaf ${leaf}`}>
            <h3>Leaf {leaf}</h3>
            <ul>
              {rows.filter((row) => row.leaf === leaf).map((row) => {
                const reason = reasons[row.meterReadingId];
                const isOut = reason !== undefined;
                return (
                  <li key={row.meterReadingId} data-out={isOut || undefined}>
                    <label>
                      <input type="checkbox" checked={isOut} onChange={() => toggle(row.meterReadingId)} />
                      <span>disc {row.disc}, RWC <Rwc value={row.rwc} u={row.uRwc} />, transmittance <Uncertain value={row.transmittance} u={row.uTransmittance} unit="" /></span>
                    </label>
                    {isOut ? <TextField name={`reason-${row.meterReadingId}`} label="Reason for leaving it out" value={reason} onChange={(text) => onChange({ ...reasons, [row.meterReadingId]: text })} problem={problemAt === row.meterReadingId ? problem : null} autoFocus /> : null}
                  </li>
                );
              })}
            </ul>
          </section>
        ))}
      </div>
    </div>
  );
}
