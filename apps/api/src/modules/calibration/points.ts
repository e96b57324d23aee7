import type { PointExclusionInput } from '../../generated/schema.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { requireText } from '../../platform/graphql/text.js';
import type { CalibrationDocument } from './calibration-document.js';
import type { SeriesForFit } from './calibration.repository.js';

/** Readings of the series as points of a fit, those left out with their reasons. */
export function pointsOf(series: readonly SeriesForFit[], exclusions: readonly PointExclusionInput[]): CalibrationDocument['points'] {
  const reasons = new Map(exclusions.map(({ meterReadingId, reason }, i) => [meterReadingId, requireText(`exclusions.${i}.reason`, reason)]));
  const points = series.flatMap((one) =>
    one.document.readings.map(({ meterReadingId, rwc, uRwc, transmittance, uTransmittance }) => ({
      rwcSeriesId: one.id,
      meterReadingId,
      leafId: one.leafId,
      leafLabel: one.leafLabel,
      rwc, uRwc, transmittance, uTransmittance,
      used: !reasons.has(meterReadingId),
      exclusionReason: reasons.get(meterReadingId) ?? null,
      residual: null,
    })),
  );
  const unknown = [...reasons.keys()].find((id) => !points.some(({ meterReadingId }) => meterReadingId === id));
  if (unknown) throw notFound('exclusions', `The reading ${unknown} among the readings of these runs`);
  if (points.length === 0) {
    throw new ProblemError('COMPUTATION', 'dryingRunIds', 'These runs have no readings of this crop that lie between weighings and references.', 'Choose runs with optical readings.');
  }
  return points;
}
