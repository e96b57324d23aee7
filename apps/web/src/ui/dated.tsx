import { localInput } from './time.js';
import styles from './state.module.css';

/** A moment with its day, always: for what is printed, or read long after. The stored form with its offset on hover. */
export function Dated({ at }: { readonly at: string }) {
  const date = new Date(at);
  const text = Number.isNaN(date.getTime()) ? at : localInput(date).replace('T', ' ').slice(0, 16);
  return <time dateTime={at} title={`Stored as ${at}`} className={styles.moment}>{text}</time>;
}
