const key = 'threadleaf.bell';

/** Tones carry over a fan without startling; each meaning has its own melody, for those who do not look. */
const melodies = {
  /** The moment of the next step has come: two tones, rising. */
  due: [[0, 660], [0.22, 880]],
  /** Recorded: one short high tone. */
  recorded: [[0, 990]],
  /** Something asks before it is recorded, or the scan was wrong: two tones, falling. */
  asks: [[0, 440], [0.22, 330]],
} as const satisfies Record<string, readonly (readonly [afterS: number, hertz: number])[]>;

let context: AudioContext | null = null;

export const soundIsOn = (): boolean => localStorage.getItem(key) === 'on';

/** Browsers give sound only after a touch or a key: call it from one. */
export function turnSound(on: boolean): void {
  localStorage.setItem(key, on ? 'on' : 'off');
  if (on) sound('due');
}

/** Silent where nobody turned the sound on at this computer. */
export function sound(melody: keyof typeof melodies): void {
  if (!soundIsOn() || typeof AudioContext === 'undefined') return;
  context ??= new AudioContext();
  for (const [afterS, hertz] of melodies[melody]) {
    const tone = context.createOscillator();
    const loudness = context.createGain();
    const start = context.currentTime + afterS;
    tone.frequency.value = hertz;
    loudness.gain.setValueAtTime(0.0001, start);
    loudness.gain.exponentialRampToValueAtTime(0.25, start + 0.02);
    loudness.gain.exponentialRampToValueAtTime(0.0001, start + 0.2);
    tone.connect(loudness).connect(context.destination);
    tone.start(start);
    tone.stop(start + 0.22);
  }
}
