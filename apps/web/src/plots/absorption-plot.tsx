import { absorptionDrawing, type AbsorptionSpectrum } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

/** What units take up by wavelength, over the band of water. */
export function AbsorptionPlot({ label, spectra }: { readonly label: string; readonly spectra: readonly AbsorptionSpectrum[] }) {
  const drawing = useMemo(() => absorptionDrawing(spectra), [spectra]);
  const lines = spectra.length === 1 ? 'Line: what it takes up; dotted uprights: half of its peak.' : 'Each line is one spectrum, named at its peak; dotted uprights: half of the peak of the first.';
  return <PlotFigure label={label} options={drawing} caption={`${lines} Grey ground: where water absorbs, 1400 to 1600 nm, scaled to the highest peak; a model of leaves (PROSPECT-D) lends it.`} />;
}
