import type { Found } from './prove.js';
import styles from './ledger.module.css';

const words = { holds: '✓ Holds', fails: '✗ Fails', unproven: '? Unproven' } as const;

/** One question, the answer as a word and a shape, and why. */
export function FoundLine({ found: { question, status, says } }: { readonly found: Found }) {
  return (
    <div className={styles.found}>
      <span className={styles.verdict} data-status={status}>{words[status]}</span>
      <div><p><strong>{question}</strong></p><p>{says}</p></div>
    </div>
  );
}
