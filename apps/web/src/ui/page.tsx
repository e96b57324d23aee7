import { useEffect } from 'react';
import type { ReactNode } from 'react';
import { Link } from 'react-router';
import styles from './page.module.css';

interface PageProps {
  /** The h1 and the window's title. */
  readonly title: string;
  /** Left of the margin line: where one came from, a state, a date. */
  readonly margin?: ReactNode;
  /** One sentence under the title. */
  readonly lead?: ReactNode;
  /** Buttons at the right of the title. */
  readonly actions?: ReactNode;
  readonly children?: ReactNode;
}

/** A page of the notebook: a margin at the left for times and states, the page at the right. On a phone the margin lies above. */
export function Page({ title, margin, lead, actions, children }: PageProps) {
  useEffect(() => {
    document.title = `${title} · Threadleaf`;
  }, [title]);
  return (
    <article className={styles.page}>
      <header className={styles.head}>
        <div className={styles.margin}>{margin}</div>
        <div className={styles.headText}>
          <h1 tabIndex={-1}>{title}</h1>
          {actions ? <div className={`${styles.actions} no-print`}>{actions}</div> : null}
          {lead ? <div className={styles.lead}>{lead}</div> : null}
        </div>
      </header>
      {children}
    </article>
  );
}

/** A way back to the list one came from; stands in the margin. */
export function Back({ to, children }: { readonly to: string; readonly children: ReactNode }) {
  return <Link className={styles.back} to={to}><span aria-hidden="true">← </span>{children}</Link>;
}

interface SectionProps {
  readonly title: string;
  readonly margin?: ReactNode;
  readonly actions?: ReactNode;
  /** A sentence that says what is shown and how to read it. */
  readonly lead?: ReactNode;
  readonly children?: ReactNode;
}

/** A ruled part of a page with its own heading. */
export function Section({ title, margin, actions, lead, children }: SectionProps) {
  return (
    <section className={styles.section} aria-label={title}>
      <div className={styles.margin}>{margin}</div>
      <div className={styles.body}>
        <div className={styles.sectionHead}>
          <h2>{title}</h2>
          {actions ? <div className={`${styles.actions} no-print`}>{actions}</div> : null}
        </div>
        {lead ? <div className={styles.lead}>{lead}</div> : null}
        {children}
      </div>
    </section>
  );
}

/** What needs no heading of its own. */
export function Strip({ margin, children }: { readonly margin?: ReactNode; readonly children: ReactNode }) {
  return (
    <div className={styles.strip}>
      <div className={styles.margin}>{margin}</div>
      <div className={styles.body}>{children}</div>
    </div>
  );
}

/** Lines of a notebook: a time or state in the margin, the line itself at the right. Give it Lines. */
export function Lines({ label, children }: { readonly label: string; readonly children: ReactNode }) {
  return <ol className={styles.lines} aria-label={label}>{children}</ol>;
}

export function Line({ margin, children, struck = false }: { readonly margin: ReactNode; readonly children: ReactNode; readonly struck?: boolean }) {
  return (
    <li className={styles.line} data-struck={struck || undefined}>
      <div className={styles.lineMargin}>{margin}</div>
      <div className={styles.lineBody}>{children}</div>
    </li>
  );
}

export interface FactRow {
  readonly name: string;
  readonly value: ReactNode;
}

/** Name and value, side by side. Rows without a value are left out. */
export function Facts({ rows }: { readonly rows: readonly (FactRow | null | false)[] }) {
  return (
    <dl className={styles.facts}>
      {rows.filter((row) => row !== null && row !== false).map((row) => (
        <div key={row.name}><dt>{row.name}</dt><dd>{row.value}</dd></div>
      ))}
    </dl>
  );
}
