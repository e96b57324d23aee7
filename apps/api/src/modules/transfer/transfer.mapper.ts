import { studentTQuantile } from '#libs/numeric';
import type { TransferVerdict as Told } from '../../generated/schema.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { TransferVerdict } from '#libs/regression';
import { slopeOfGiven } from './compute.js';
import type { Given, ReadingsDocument, ThicknessDocument } from './transfer-document.js';
import type { TransferStudy } from './transfer.entity.js';

const told: Readonly<Record<TransferVerdict, Told>> = {
  'holds': 'HOLDS', 'holds with offset': 'HOLDS_WITH_OFFSET', 'does not hold': 'DOES_NOT_HOLD', 'not enough data': 'NOT_ENOUGH_DATA',
};

export type TransferStudyView = RecordView & Pick<TransferStudy, 'codeVersion' | 'cropId' | 'basis'> & { given: object; sentence: string; readings: object | null; thickness: object | null; remarks: readonly object[] };

export const toTransferStudy = (row: TransferStudy): TransferStudyView => ({
  ...recordView(row),
  codeVersion: row.codeVersion,
  cropId: row.cropId,
  basis: row.basis,
  given: toGiven(row.document.given),
  sentence: row.document.outcome.sentence,
  readings: row.document.basis === 'READINGS' ? toReadings(row.document) : null,
  thickness: row.document.basis === 'WATER_THICKNESS' ? toThickness(row.document) : null,
  remarks: row.document.remarks,
});

const toGiven = ({ line, ...given }: Given): object => ({ ...given, leafCount: line.leafCount, rwcMin: line.rwcRange.from, rwcMax: line.rwcRange.to, slope: slopeOfGiven(line) });

const leafRef = (id: string, label: string) => ({ kind: 'leaf', id, label });

function toReadings({ request, outcome, points, drawn, leafEffects, ownSlope }: ReadingsDocument): object {
  const { performance, comparison, rwcRange, moreLeaves } = outcome;
  const { coverage, biasInterval } = performance;
  const labels = new Map(points.map(({ leafId, leafLabel }) => [leafId, leafLabel]));
  return {
    ...request,
    verdict: told[outcome.verdict],
    leafEffects,
    rwcFrom: rwcRange.from,
    rwcTo: rwcRange.to,
    leafCount: outcome.leaves,
    readingCount: outcome.readings,
    moreLeaves,
    biasPoints: performance.biasPoints,
    biasLow: biasInterval?.lower ?? null,
    biasHigh: biasInterval?.upper ?? null,
    rmsPoints: performance.rmsPoints,
    insideLeaves: coverage.inside,
    insideShareLow: coverage.interval.lower,
    insideShareHigh: coverage.interval.upper,
    insidePValue: coverage.pValue,
    comparison: comparison && {
      ...comparison,
      ownSlope,
      slopeRatioLow: comparison.slopeRatioInterval.lower,
      slopeRatioHigh: comparison.slopeRatioInterval.upper,
      commonLinePValue: comparison.commonLine.pValue,
      commonLineF: comparison.commonLine.statistic,
      commonLineDf: comparison.commonLine.denominatorDf,
      off: comparison.curve.map(({ rwc, points: off, standardErrorPoints, degreesOfFreedom }) => {
        const half = studentTQuantile(1 - request.alpha, degreesOfFreedom) * standardErrorPoints;
        return { rwc, points: off, low: off - half, high: off + half };
      }),
    },
    leaves: performance.leaves.map(({ leafId, ...leaf }) => ({ ...leaf, leaf: leafRef(leafId, labels.get(leafId)!) })),
    points: points.map(({ leafId, leafLabel, ...point }) => ({ ...point, leaf: leafRef(leafId, leafLabel) })),
    curve: drawn,
  };
}

function toThickness({ request, outcome, discs, fit }: ThicknessDocument): object {
  const { ewtTurgidUm, uEwtTurgidUm, betweenLeavesUm, leaves, curve } = outcome;
  return {
    ...request, leafCount: leaves, ewtTurgidUm, uEwtTurgidUm, betweenLeavesUm, givenEwtFromUm: fit.ewtFromUm, givenEwtToUm: fit.ewtToUm,
    discs: discs.map(({ discId, discLabel, leafId, leafLabel, diameterMm, ...disc }) => ({
      ...disc, disc: { kind: 'disc', id: discId, label: discLabel }, leaf: leafRef(leafId, leafLabel), areaCm2: Math.PI * (diameterMm / 20) ** 2,
    })),
    curve: curve.map(({ interval, newLeafInterval, parts, ...at }) => ({
      ...at, meanLow: interval.lower, meanHigh: interval.upper, newLeafLow: newLeafInterval.lower, newLeafHigh: newLeafInterval.upper,
      uCalibration: parts.calibration, uThickness: parts.thickness, uStructure: parts.structure,
    })),
  };
}
