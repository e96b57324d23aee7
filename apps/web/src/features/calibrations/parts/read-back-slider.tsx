import { Facts } from '../../../ui/page.js';
import { Rwc, rwcInterval } from '../../../ui/quantity.js';
import type { ReadBackRow, Study } from './builder.js';
import styles from './calibrations.module.css';

interface ReadBackSliderProps {
  readonly study: Study;
  readonly read: ReadBackRow;
  readonly share: string;
  readonly confidence: string;
  readonly onChange: (transmittance: number) => void;
}

const interval = (ends: readonly number[] | null | undefined): string => (ends ? rwcInterval(ends[0]!, ends[1]!) : 'has no two ends: the slope is too uncertain');

/** RWC at a transmittance chosen by drawing, by the slider or by its arrow keys. */
export function ReadBackSlider({ study, read, share, confidence, onChange }: ReadBackSliderProps) {
  const [low, high] = [study.readBack[0]!.transmittance, study.readBack.at(-1)!.transmittance];
  return (
    <>
      <label className={styles.slider}>
        <span>Transmittance <strong>{read.transmittance.toFixed(4)}</strong></span>
        <input type="range" min={low} max={high} step={(high - low) / 200} value={read.transmittance} onChange={(event) => onChange(Number(event.currentTarget.value))}
          aria-valuetext={`Transmittance ${read.transmittance.toFixed(4)}, RWC ${(100 * read.rwc).toFixed(1)} %`} />
      </label>
      <Facts rows={[
        { name: 'RWC by the mean line', value: <Rwc value={read.rwc} /> },
        { name: 'One new leaf, 95 %', value: interval(read.newLeaf) },
        { name: `Tolerance: ${share} % of leaves, with ${confidence} % confidence`, value: interval(read.tolerance) },
        { name: 'Mean line, 95 %', value: interval(read.mean) },
      ]} />
    </>
  );
}
