import { bandDrawing, type BandPoint } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

/** What a band sees of a leaf. */
export function BandPlot({ label, points }: { readonly label: string; readonly points: readonly BandPoint[] }) {
  const drawing = useMemo(() => bandDrawing(points), [points]);
  const sun = points.some(({ sunWeight }) => sunWeight != null);
  return <PlotFigure label={label} options={drawing} caption={`Thick line: transmittance of the leaf. Dashed: what counts on the rig, lamp times filter.${sun ? ' Dotted: the same in the field, sun times device.' : ''} Grey ground: where water absorbs, 1400 to 1600 nm; a model of leaves (PROSPECT-D) lends it.`} />;
}
