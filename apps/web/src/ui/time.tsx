import { useSyncExternalStore } from 'react';
import styles from './state.module.css';

const listeners = new Set<() => void>();
let second = Math.floor(Date.now() / 1000);
let timer: ReturnType<typeof setInterval> | null = null;

function subscribe(listener: () => void): () => void {
  listeners.add(listener);
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

const two = (value: number): string => String(value).padStart(2, '0');
const dayOf = (date: Date): string => `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
const clockOf = (date: Date): string => `${two(date.getHours())}:${two(date.getMinutes())}`;

function offsetOf(date: Date): string {
  const minutes = -date.getTimezoneOffset();
  return `${minutes < 0 ? '−' : '+'}${two(Math.floor(Math.abs(minutes) / 60))}:${two(Math.abs(minutes) % 60)}`;
}

/** "14:20" today, "tomorrow 14:20", else "2026-06-03 14:20", on this computer's clock. */
export function momentText(at: string, now: number): string {
  const date = new Date(at);
  if (Number.isNaN(date.getTime())) return at;
  const day = dayOf(date);
  if (day === dayOf(new Date(now))) return clockOf(date);
  if (day === dayOf(new Date(now - 86_400_000))) return `yesterday ${clockOf(date)}`;
  if (day === dayOf(new Date(now + 86_400_000))) return `tomorrow ${clockOf(date)}`;
  return `${day} ${clockOf(date)}`;
}

function spanText(seconds: number): string {
  if (seconds < 5400) return `${Math.max(1, Math.round(seconds / 60))} min`;
  return seconds < 129_600 ? `${Math.round(seconds / 3600)} h` : `${Math.round(seconds / 86_400)} days`;
}

const secondsUntil = (at: string, now: number): number => Math.round((new Date(at).getTime() - now) / 1000);

/** "in 12 min", "3 h ago", "in 2 days". */
export function relativeText(at: string, now: number): string {
  const seconds = secondsUntil(at, now);
  if (Math.abs(seconds) < 45) return 'now';
  return seconds < 0 ? `${spanText(-seconds)} ago` : `in ${spanText(seconds)}`;
}

/** "late by 12 min", for what was due at a moment that has passed. */
export const lateText = (at: string, now: number): string => `late by ${spanText(-secondsUntil(at, now))}`;

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
    <span className={styles.countdown} data-late={seconds < 0 || undefined} role="timer" aria-label={seconds < 0 ? 'Late by' : 'Time left'}>
      {seconds < 0 ? 'late by ' : ''}{clock}
    </span>
  );
}

/** The text of an input of type datetime-local for a moment. */
export function localInput(date: Date): string {
  return `${dayOf(date)}T${clockOf(date)}:${two(date.getSeconds())}`;
}

/** RFC 3339 with this computer's offset from UTC, as the contract wants it. */
export function momentNow(date: Date = new Date()): string {
  return `${dayOf(date)}T${clockOf(date)}:${two(date.getSeconds())}.${String(date.getMilliseconds()).padStart(3, '0')}${offsetOf(date).replace('−', '-')}`;
}

/** What a person typed into a moment field, as RFC 3339; the text itself when it cannot be read, so that the server names the fault. */
export function momentFromInput(text: string): string {
  const date = new Date(text);
  return text === '' || Number.isNaN(date.getTime()) ? text : momentNow(date);
}
