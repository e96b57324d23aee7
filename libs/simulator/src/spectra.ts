import { raise } from '#libs/numeric';
import { bell, leafOptics } from '#libs/optics';
import type { CropScenario, RigScenario } from './scenario.js';

/** A spectrum as a table, wavelengths in the first column, and of what it is. */
export interface SimulatedSpectrum {
  readonly key: string;
  readonly spectrumOf: 'leaf' | 'lamp' | 'sun' | 'filter' | 'absorber';
  readonly label: string;
  readonly csv: string;
  readonly note: string;
}

const FROM_NM = 1400;
const TO_NM = 1600;
const STEP_NM = 2;
/** Second radiation constant, nm K (CODATA 2018: 1.438776877e-2 m K). */
const C2_NM_K = 1.438776877e7;

/** Planck's law, its shape alone. */
const glow = (nm: number, kelvin: number): number => 1 / (raise(nm, 5) * (Math.exp(C2_NM_K / (nm * kelvin)) - 1));
/** What vapour takes out of the sun at the edge of its band: an invented shape, deep at 1400 nm and gone by 1500. */
const vapour = (nm: number): number => Math.exp(-2.6 * Math.exp(-(((nm - 1395) / 38) ** 2)));

/**
 * Spectra for the demo: a leaf of each crop by the plate model, a halogen lamp and the sun by Planck's law, the rig's filter, and the
 * broader band of a device. Invented: for looking around, never for a calibration.
 *
 * @example
 * simulateSpectra(demoScenario('2026-06-30T17:00:00Z')).map(({ spectrumOf }) => spectrumOf) // => ['lamp', 'filter', 'absorber', 'sun', 'leaf', 'leaf']
 */
export function simulateSpectra({ rig, crops }: { readonly rig: RigScenario; readonly crops: readonly CropScenario[] }): SimulatedSpectrum[] {
  const top = (kelvin: number): number => Math.max(...grid().map((nm) => glow(nm, kelvin)));
  const [lampTop, sunTop] = [top(2850), top(5780)];
  return [
    { key: 'lamp', spectrumOf: 'lamp', label: 'Halogen lamp of the rig', note: 'Invented: a black body of 2850 K, largest value 1.', csv: table('lamp', (nm) => glow(nm, 2850) / lampTop) },
    { key: 'filter', spectrumOf: 'filter', label: `Filter ${rig.wavelengthNm} nm`, note: 'Invented: a bell of the rig’s width.', csv: table('filter', (nm) => 0.86 * bell((nm - rig.wavelengthNm) / rig.bandWidthNm)) },
    { key: 'absorber', spectrumOf: 'absorber', label: 'Absorber of a device', note: 'Invented: a bell of 34 nm, a little below the filter.', csv: table('absorptance', (nm) => 0.82 * bell((nm - rig.wavelengthNm + 6) / 34)) },
    { key: 'sun', spectrumOf: 'sun', label: 'Sun at noon, dry air', note: 'Invented: a black body of 5780 K behind a band of vapour.', csv: table('sun', (nm) => (glow(nm, 5780) / sunTop) * vapour(nm)) },
    ...crops.map(({ key, name, population: { ewtTurgidUm, lmaGm2, structureN } }): SimulatedSpectrum => ({
      key: `leaf ${key}`, spectrumOf: 'leaf', label: `${name}, a turgid leaf`, note: 'Invented: the plate model with the crop’s mean leaf.',
      csv: table('transmittance', (nm) => leafOptics({ ewtUm: ewtTurgidUm, lmaGm2, structureN, wavelengthNm: nm }).transmittance),
    })),
  ];
}

const grid = (): number[] => Array.from({ length: (TO_NM - FROM_NM) / STEP_NM + 1 }, (_, i) => FROM_NM + i * STEP_NM);

const table = (name: string, value: (nm: number) => number): string => `nm,${name}\n${grid().map((nm) => `${nm},${value(nm).toFixed(6)}`).join('\n')}\n`;
