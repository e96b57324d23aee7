import { useSyncExternalStore } from 'react';
import { clockOf, dayOf, momentText, offsetOf, relativeText, two } from './moment.js';
import styles from './state.module.css';

export { lateText, localInput, momentFromInput, momentNow, momentText, relativeText } from './moment.js';

const listeners = new Set<() => void>();
let second = Math.floor(Date.now() / 1000);
let timer: ReturnType<typeof setInterval> | null = null;

function subscribe(listener: () => void): () => void {
  listeners.add(listener);
  // After a page without a clock the last tick is old.
  if (timer === null) second = Math.floor(Date.now() / 1000);
  timer ??= setInterval(() => {
    second = Math.floor(Date.now() / 1000);
    for (const each of listeners) each();
  }, 1000);
  return () => {
    listeners.delete(listener);
    if (listeners.size > 0 || timer === null) return;
    clearInterval(timer);
    timer = null;
  };
}

/** This computer's clock in ms, stepping every `step` seconds; one timer serves the whole page. */
export function useNow(step = 1): number {
  return useSyncExternalStore(subscribe, () => Math.floor(second / step) * step * 1000);
}

/** A moment on this computer's clock; its full form with the offset from UTC on hover. */
export function Moment({ at, relative = false }: { readonly at: string; readonly relative?: boolean }) {
  const now = useNow(30);
  const date = new Date(at);
  const full = Number.isNaN(date.getTime()) ? at : `${dayOf(date)} ${clockOf(date)}:${two(date.getSeconds())} UTC${offsetOf(date)} (stored as ${at})`;
  return (
    <time dateTime={at} title={full} className={styles.moment}>
      {momentText(at, now)}{relative ? <span className={styles.relative}>, {relativeText(at, now)}</span> : null}
    </time>
  );
}

/** Minutes and seconds until a moment; past it, how long it has been due. */
export function Countdown({ to }: { readonly to: string }) {
  const now = useNow(1);
  const seconds = Math.round((new Date(to).getTime() - now) / 1000);
  const size = Math.abs(seconds);
  const clock = size >= 3600 ? `${Math.floor(size / 3600)}:${two(Math.floor((size % 3600) / 60))}:${two(size % 60)}` : `${Math.floor(size / 60)}:${two(size % 60)}`;
  return (
    <span className={styles.countdown} data-late={seconds < 0 || undefined} role="timer">
      {seconds < 0 ? 'late by ' : 'due in '}{clock}
    </span>
  );
}
