import { leafEffectDrawing, leavesOf, residualsByDrawing, smallCalibrationDrawing, studyDrawing, type GroupedResidual, type LeafEffectRow, type SmallCurve, type StudyParts } from '#libs/drawing';
import { useMemo } from 'react';
import { LeafLegend } from './leaf-symbols.js';
import { PlotFigure } from './plot-figure.js';

interface StudyPlotProps extends StudyParts {
  readonly label: string;
  /** A transmittance pointed at on the drawing. */
  readonly onTransmittance?: (transmittance: number) => void;
}

/** Readings, mean line and the three intervals; the hand may run along it. */
export function StudyPlot({ label, points, curve, readBack, onTransmittance }: StudyPlotProps) {
  const drawing = useMemo(() => studyDrawing({ points, curve, readBack }), [points, curve, readBack]);
  const leaves = useMemo(() => leavesOf(points), [points]);
  return (
    <>
      <PlotFigure label={label} options={drawing} {...(onTransmittance ? { onValue: onTransmittance } : {})}
        caption="Darkest: the mean line. Dashed: where one new leaf may lie. Dotted: the tolerance interval. Points carry one standard uncertainty either way." />
      {leaves.length <= 30 ? <LeafLegend leaves={leaves} /> : null}
    </>
  );
}

export function LeafEffectPlot({ label, rows }: { readonly label: string; readonly rows: readonly LeafEffectRow[] }) {
  const drawing = useMemo(() => leafEffectDrawing(rows), [rows]);
  return <PlotFigure label={label} options={drawing} caption="Open circle: where a leaf’s own readings put it. Diamond: where it is taken to be, drawn towards the mean line by how little its readings say, with one SD either way." />;
}

export function ResidualsByPlot({ label, rows, by }: { readonly label: string; readonly rows: readonly GroupedResidual[]; readonly by: string }) {
  const drawing = useMemo(() => residualsByDrawing(rows, by), [rows, by]);
  return <PlotFigure label={label} options={drawing} />;
}

export function SmallCalibrationPlot({ label, curve, rwcs, transmittances }: { readonly label: string; readonly curve: readonly SmallCurve[]; readonly rwcs: readonly [number, number]; readonly transmittances: readonly [number, number] }) {
  const drawing = useMemo(() => smallCalibrationDrawing(curve, rwcs, transmittances), [curve, rwcs, transmittances]);
  return <PlotFigure label={label} options={drawing} />;
}
