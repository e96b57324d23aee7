import { useEffect, useRef } from 'react';

/** A hand needs longer between two keys; scanners and balances that act as a keyboard need less (common practice, no source). */
export const BURST_GAP_MS = 35;
const BURST_LEAST = 4;

/** Tells a burst of keys that ends in Enter from a hand at the keyboard. Moments in ms of any one clock. */
export class KeyBurst {
  private text = '';
  private lastMs = -Infinity;

  /** A printed character. */
  key(character: string, atMs: number): void {
    this.text = atMs - this.lastMs <= BURST_GAP_MS ? this.text + character : character;
    this.lastMs = atMs;
  }

  /** Enter: the whole burst, or null where a hand typed. Begins anew either way. */
  enter(atMs: number): string | null {
    const burst = this.text.length >= BURST_LEAST && atMs - this.lastMs <= BURST_GAP_MS ? this.text : null;
    this.forget();
    return burst;
  }

  forget(): void {
    this.text = '';
    this.lastMs = -Infinity;
  }
}

/** Another field's keys are its own. */
const belongsElsewhere = (target: EventTarget | null, own: string): boolean =>
  target instanceof Element && target.matches('input, textarea, select, [contenteditable=true]') && !(target instanceof HTMLInputElement && target.name === own);

/**
 * Calls `take` with what a scanner or balance typed in one burst, whether the field named `own` has the focus or nothing has.
 * Where `take` answers true, Enter does nothing else.
 */
export function useKeyBurst(own: string, take: (text: string) => boolean): void {
  const latest = useRef(take);
  useEffect(() => { latest.current = take; });
  useEffect(() => {
    const burst = new KeyBurst();
    const onKey = (event: KeyboardEvent) => {
      if (belongsElsewhere(event.target, own) || event.ctrlKey || event.metaKey || event.altKey) return burst.forget();
      if (event.key.length === 1) return burst.key(event.key, event.timeStamp);
      if (event.key !== 'Enter') return;
      const text = burst.enter(event.timeStamp);
      if (text === null || !latest.current(text)) return;
      event.preventDefault();
      event.stopPropagation();
    };
    window.addEventListener('keydown', onKey, true);
    return () => window.removeEventListener('keydown', onKey, true);
  }, [own]);
}
