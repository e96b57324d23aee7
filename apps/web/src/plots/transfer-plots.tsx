import { expectedDrawing, leavesOf, offDrawing, transferDrawing, type ExpectedPoint, type OffPoint, type TransferParts } from '#libs/drawing';
import { useMemo } from 'react';
import { LeafLegend } from './leaf-symbols.js';
import { PlotFigure } from './plot-figure.js';

export function TransferPlot({ label, points, curve, marginPoints, level }: TransferParts & { readonly label: string; readonly marginPoints: number; readonly level: number }) {
  const drawing = useMemo(() => transferDrawing({ points, curve }), [points, curve]);
  const leaves = useMemo(() => leavesOf(points), [points]);
  return (
    <>
      <PlotFigure label={label} options={drawing}
        caption={`Line: the calibration that was given. Dashed: where it promises one new leaf (${Math.round(100 * level)} %). Dotted: ${marginPoints} RWC points to either side of it. Points are own leaves, with one standard uncertainty either way.`} />
      {leaves.length <= 30 ? <LeafLegend leaves={leaves} /> : null}
    </>
  );
}

export function OffPlot({ label, off, marginPoints }: { readonly label: string; readonly off: readonly OffPoint[]; readonly marginPoints: number }) {
  const drawing = useMemo(() => offDrawing(off, marginPoints), [off, marginPoints]);
  return <PlotFigure label={label} options={drawing} caption="Above zero: it reads too much water. The band is what the error may be for the average own leaf; between the dotted lines it is inside the margin." />;
}

export function ExpectedPlot({ label, curve }: { readonly label: string; readonly curve: readonly ExpectedPoint[] }) {
  const drawing = useMemo(() => expectedDrawing(curve), [curve]);
  return <PlotFigure label={label} options={drawing} caption="Line: what the average leaf is expected to let through. Narrow band: how sure that is. Dashed: where one new leaf may lie." />;
}
