import type { ReactNode } from 'react';
import styles from './folded.module.css';

/** A form that is seldom used: its title opens it. Not printed. */
export function Folded({ title, children }: { readonly title: string; readonly children: ReactNode }) {
  return (
    <details className={`${styles.folded} no-print`}>
      <summary>{title}</summary>
      <div>{children}</div>
    </details>
  );
}
