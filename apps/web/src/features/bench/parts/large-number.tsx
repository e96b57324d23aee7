import { useId } from 'react';
import type { FieldBinding } from '../../../ui/entry.js';
import type { Choice } from '../../../ui/fields.js';
import styles from './bench.module.css';
import type { Done } from './rhythm.js';

interface LargeNumberProps {
  readonly binding: FieldBinding<string>;
  readonly label: string;
  readonly unit: FieldBinding<string>;
  readonly units: readonly Choice[];
}

/** The one large field of the rhythm, read at arm's length: a number and its unit. Enter confirms it. */
export function LargeNumber({ binding, label, unit, units }: LargeNumberProps) {
  const id = useId();
  const { problem } = binding;
  return (
    <div className={`${styles.wide} ${styles.beside}`}>
      <label htmlFor={id} className={styles.largeLabel}>{label}</label>
      <div className={styles.window} data-problem={problem ? true : undefined}>
        <input id={id} name={binding.name} className={styles.number} value={binding.value} onChange={(event) => binding.onChange(event.currentTarget.value)}
          inputMode="decimal" autoComplete="off" autoFocus spellCheck={false} aria-required="true" aria-invalid={problem ? true : undefined} aria-describedby={problem ? `${id}-problem` : undefined} />
        <select aria-label="Unit" className={styles.unit} value={unit.value} onChange={(event) => unit.onChange(event.currentTarget.value)}>
          {units.map(({ value, label: text }) => <option key={value} value={value}>{text}</option>)}
        </select>
      </div>
      {problem ? <p id={`${id}-problem`} className={styles.stands}>{problem.message} {problem.remedy}</p> : null}
      {unit.problem ? <p className={styles.stands}>{unit.problem.message} {unit.problem.remedy}</p> : null}
    </div>
  );
}

const unitKey = (quantity: string): string => `threadleaf.unit.${quantity}`;

/** The unit this computer's instruments speak, as last chosen here. */
export const rememberedUnit = (quantity: 'mass' | 'power', fallback: string): string => localStorage.getItem(unitKey(quantity)) ?? fallback;
export const rememberUnit = (quantity: 'mass' | 'power', unit: string): void => localStorage.setItem(unitKey(quantity), unit);

/** What was just recorded, for the line under the form. */
export interface Told {
  readonly id: string;
  readonly what: string;
  readonly kept: boolean;
  readonly done: Done;
}
