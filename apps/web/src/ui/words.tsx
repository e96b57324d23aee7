import { useEffect, useId, useRef } from 'react';
import type { ReactNode } from 'react';
import { Link } from 'react-router';
import type { FlagSeen } from './send.js';
import styles from './words.module.css';

interface ActionProps {
  readonly children: ReactNode;
  /** strong: what the screen is for; plain: beside it; quiet: a way out. */
  readonly kind?: 'strong' | 'plain' | 'quiet';
  readonly type?: 'button' | 'submit';
  readonly onClick?: () => void;
  readonly waiting?: boolean;
  readonly disabled?: boolean;
  readonly large?: boolean;
}

/** A button: a verb and what it acts on. While it waits it stays where it is and says so. */
export function Action({ children, kind = 'strong', type = 'button', onClick, waiting = false, disabled = false, large = false }: ActionProps) {
  return (
    <button type={type} className={`${styles.action} ${styles[kind]} ${large ? styles.large : ''}`} onClick={onClick} disabled={disabled} aria-busy={waiting}>
      {children}
      {waiting ? <span className={styles.waitingMark} aria-hidden="true">…</span> : null}
    </button>
  );
}

/** A link that looks like the button it stands beside. */
export function ActionLink({ to, children, kind = 'plain' }: { readonly to: string; readonly children: ReactNode; readonly kind?: 'strong' | 'plain' | 'quiet' }) {
  return <Link to={to} className={`${styles.action} ${styles[kind]}`}>{children}</Link>;
}

interface NoticeProps {
  /** alarm: refused or unsafe; ask: wants a look; calm: good to know. */
  readonly tone: 'alarm' | 'ask' | 'calm';
  readonly title: string;
  readonly children?: ReactNode;
}

/** Something the person must read before going on. */
export function Notice({ tone, title, children }: NoticeProps) {
  return (
    <div className={`${styles.notice} ${styles[tone]}`} role={tone === 'alarm' ? 'alert' : undefined}>
      <p className={styles.noticeTitle}>{title}</p>
      {children ? <div className={styles.noticeText}>{children}</div> : null}
    </div>
  );
}

const siteRules = 'Follow your site’s rules, local codes and manufacturers’ instructions.';

/** A caution at the place where the hand is. Ends by deferring to the site, always. */
export function Caution({ title, children }: { readonly title: string; readonly children: ReactNode }) {
  return (
    <aside className={styles.caution} aria-label={`Caution: ${title}`}>
      <svg viewBox="0 0 24 24" width="22" height="22" aria-hidden="true"><path d="M12 2 23 22H1Z" fill="none" stroke="currentColor" strokeWidth="2.2" strokeLinejoin="round" /><path d="M12 9v6m0 2.4v1.6" stroke="currentColor" strokeWidth="2.4" /></svg>
      <p><strong>{title}</strong> {children} {siteRules}</p>
    </aside>
  );
}

/** Nothing here yet, and what to do about it. */
export function Empty({ title, children }: { readonly title: string; readonly children?: ReactNode }) {
  return (
    <div className={styles.empty}>
      <p className={styles.emptyTitle}>{title}</p>
      {children ? <div>{children}</div> : null}
    </div>
  );
}

/** Quiet while something is being fetched; appears only after a moment, so that a quick answer does not flicker. */
export function Waiting({ what }: { readonly what: string }) {
  return <p className={styles.waiting} role="status">Fetching {what}…</p>;
}

/** A query that got no answer. */
export function Failed({ what, again }: { readonly what: string; readonly again: () => void }) {
  return (
    <Notice tone="alarm" title={`The server did not give ${what}.`}>
      <p>Look whether the network is there, then ask again.</p>
      <p><Action kind="plain" onClick={again}>Ask again</Action></p>
    </Notice>
  );
}

/** The line as the instrument sent it or the hand typed it. */
export function RawLine({ children }: { readonly children: string }) {
  return <code className={styles.raw}>{children}</code>;
}

/** Flags kept with a record, in words. */
export function Flags({ flags, answer }: { readonly flags: readonly FlagSeen[]; readonly answer?: string | null | undefined }) {
  if (flags.length === 0) return null;
  return (
    <ul className={styles.flags}>
      {flags.map((flag) => (
        <li key={flag.code} data-severity={flag.severity}>
          <svg viewBox="0 0 12 14" width="11" height="13" aria-hidden="true">
            <path d="M1.5 0v14M1.5 1h9l-2.5 3.5L10.5 8h-9" fill={flag.severity === 'ASK' ? 'currentColor' : 'none'} stroke="currentColor" strokeWidth="1.6" />
          </svg>
          <span>{flag.severity === 'ASK' ? 'Asks: ' : ''}{flag.message}</span>
        </li>
      ))}
      {answer ? <li className={styles.answer}>Answer: “{answer}”</li> : null}
    </ul>
  );
}

interface DialogProps {
  readonly title: string;
  readonly opened: boolean;
  /** Left out where the dialogue must be answered. */
  readonly onClose?: () => void;
  readonly children: ReactNode;
}

/** A dialogue laid over the page: the browser's own, which keeps the focus inside, closes by Escape and gives the focus back. */
export function Dialog({ title, opened, onClose, children }: DialogProps) {
  const dialog = useRef<HTMLDialogElement>(null);
  const titleId = useId();
  useEffect(() => {
    const element = dialog.current;
    if (!opened || !element) return;
    element.showModal();
    // Whoever opened it came to fill it in, not to close it.
    element.querySelector<HTMLElement>('form input, form select, form textarea')?.focus();
    return () => element.close();
  }, [opened]);
  if (!opened) return null;
  const cancelled = (event: { preventDefault: () => void }) => {
    // The one who opened it decides whether it closes; React then takes it away.
    event.preventDefault();
    onClose?.();
  };
  return (
    <dialog ref={dialog} className={styles.dialog} aria-labelledby={titleId} onCancel={cancelled}>
      <div className={styles.dialogHeader}>
        <h2 id={titleId}>{title}</h2>
        {onClose ? (
          <button type="button" className={styles.close} aria-label="Close" onClick={onClose}>
            <svg viewBox="0 0 16 16" width="16" height="16" aria-hidden="true"><path d="m2 2 12 12M14 2 2 14" stroke="currentColor" strokeWidth="2" /></svg>
          </button>
        ) : null}
      </div>
      <div className={styles.dialogBody}>{children}</div>
    </dialog>
  );
}
