import { useEffect, useRef, useState } from 'react';
import { useNow } from '../../../ui/time.js';
import styles from './bench.module.css';

const key = 'threadleaf.bell';

/** Two short tones that carry over a fan without startling. */
function ring(context: AudioContext): void {
  for (const [after, hertz] of [[0, 660], [0.22, 880]] as const) {
    const tone = context.createOscillator();
    const loudness = context.createGain();
    const start = context.currentTime + after;
    tone.frequency.value = hertz;
    loudness.gain.setValueAtTime(0.0001, start);
    loudness.gain.exponentialRampToValueAtTime(0.25, start + 0.02);
    loudness.gain.exponentialRampToValueAtTime(0.0001, start + 0.2);
    tone.connect(loudness).connect(context.destination);
    tone.start(start);
    tone.stop(start + 0.22);
  }
}

/** Rings once when the moment of the next step has come; off until somebody wants it on this computer. */
export function Bell({ dueMs }: { readonly dueMs: number | null }) {
  const [on, setOn] = useState(() => localStorage.getItem(key) === 'on');
  const context = useRef<AudioContext | null>(null);
  const rungFor = useRef<number | null>(null);
  const come = useNow(1) >= (dueMs ?? Infinity);
  useEffect(() => {
    if (!on || !come || dueMs === null || rungFor.current === dueMs) return;
    rungFor.current = dueMs;
    context.current ??= new AudioContext();
    ring(context.current);
  }, [on, come, dueMs]);
  const turn = (next: boolean) => {
    localStorage.setItem(key, next ? 'on' : 'off');
    setOn(next);
    if (!next) return;
    // Browsers give sound only after a touch or a key: this is the one, and it lets the person hear what will come.
    context.current ??= new AudioContext();
    ring(context.current);
  };
  return (
    <label className={styles.bell}>
      <input type="checkbox" checked={on} onChange={(event) => turn(event.currentTarget.checked)} /> Ring when it is time
    </label>
  );
}
