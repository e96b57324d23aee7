import { waterBand } from '#libs/optics';
import { inks, isNarrow, millimetrePaper, percent, Plot, symbolOf, type Drawing } from './ground.js';

/** A spectrum of what a unit takes up, with the centre and width that follow from it. */
export interface AbsorptionSpectrum {
  readonly label: string;
  readonly wavelengthNm: readonly number[];
  readonly values: readonly number[];
  readonly centreNm: number;
  readonly widthNm: number;
}

/** Beyond so many widths from the centre nothing is drawn, unless water lies there. */
const WIDTHS_SHOWN = 4;
const DASHES = ['', '7 4', '2 4', '10 3 2 3'] as const;

/** What units take up by wavelength over the band of water (grey, scaled to the highest of them); the half maxima of the first as ticks below. */
export function absorptionDrawing(spectra: readonly AbsorptionSpectrum[]): Drawing {
  const water = waterBand();
  const top = Math.max(...spectra.flatMap(({ values }) => values), Number.MIN_VALUE);
  const waterTop = Math.max(...water.values);
  const ground = water.wavelengthNm.map((nm, i) => ({ nm, water: (percent(top) * water.values[i]!) / waterTop }));
  const shown = ({ centreNm, widthNm }: AbsorptionSpectrum, nm: number): boolean =>
    Math.abs(nm - centreNm) <= WIDTHS_SHOWN * widthNm || (nm >= water.wavelengthNm[0]! && nm <= water.wavelengthNm.at(-1)!);
  const lines = spectra.map((spectrum) => spectrum.wavelengthNm.map((nm, i) => ({ nm, taken: percent(spectrum.values[i]!), label: spectrum.label })).filter(({ nm }) => shown(spectrum, nm)));
  const [first] = spectra;
  return (width) => ({
    height: isNarrow(width) ? 260 : 340,
    x: { label: 'wavelength, nm', tickFormat: 'd' },
    y: { label: 'taken up, %', domain: [0, Math.max(percent(top) * 1.05, 1)], nice: true },
    marks: [
      ...millimetrePaper(),
      Plot.areaY(ground, { x: 'nm', y: 'water', fill: inks.rule, fillOpacity: 0.55 }),
      ...(first ? [Plot.ruleX([first.centreNm - first.widthNm / 2, first.centreNm + first.widthNm / 2], { stroke: inks.soft, strokeDasharray: '1 4' })] : []),
      ...lines.map((line, i) => Plot.line(line, { x: 'nm', y: 'taken', stroke: i === 0 ? inks.violet : inks.ink, strokeWidth: i === 0 ? 2.5 : 1.5, strokeDasharray: DASHES[i % DASHES.length] })),
      ...lines.flatMap((line, i) => {
        const peak = line.reduce((best, point) => (point.taken > best.taken ? point : best), line[0]!);
        return spectra.length === 1 ? [] : [Plot.dot([peak], { x: 'nm', y: 'taken', symbol: symbolOf(i), fill: 'white', stroke: inks.ink }), Plot.text([peak], { x: 'nm', y: 'taken', text: 'label', dy: -10 - 12 * (i % 3), fill: inks.ink })];
      }),
    ],
  });
}
