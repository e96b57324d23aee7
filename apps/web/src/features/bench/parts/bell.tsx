import { useEffect, useRef, useState } from 'react';
import { useNow } from '../../../ui/time.js';
import styles from './bench.module.css';
import { sound, soundIsOn, turnSound } from './sound.js';

/** Rings once when the moment of the next step has come, and tells by tones what was recorded and what asks; off until somebody wants it on this computer. */
export function Bell({ dueMs }: { readonly dueMs: number | null }) {
  const [on, setOn] = useState(soundIsOn);
  const rungFor = useRef<number | null>(null);
  const come = useNow(1) >= (dueMs ?? Infinity);
  useEffect(() => {
    if (!on || !come || dueMs === null || rungFor.current === dueMs) return;
    rungFor.current = dueMs;
    sound('due');
  }, [on, come, dueMs]);
  const turn = (next: boolean) => {
    turnSound(next);
    setOn(next);
  };
  return (
    <label className={`${styles.tick} ${styles.bell}`}>
      <input type="checkbox" checked={on} onChange={(event) => turn(event.currentTarget.checked)} /> Ring when it is time, and when something asks
    </label>
  );
}
