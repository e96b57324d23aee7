import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { FitCalibrationInput, PointExclusionInput, RecordCalibrationInput } from '../../generated/schema.js';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { holdFactsStill } from '../amendment/amendment.repository.js';
import { DryingRun } from '../bench/bench.entity.js';
import { statesOfRuns } from '../bench/bench.repository.js';
import type { CalibrationDocument } from './calibration-document.js';
import { Calibration, CalibrationVersion } from './calibration.entity.js';
import { newestSeriesOfRuns, nextVersion, type SeriesForFit } from './calibration.repository.js';
import { computeCalibration } from './compute.js';

/** Named lineages of fits, and their frozen versions. */
@Injectable()
export class CalibrationService {
  constructor(private readonly recorder: Recorder) {}

  recordCalibration(tx: Tx, actor: Actor, input: RecordCalibrationInput): Promise<Written<Calibration>> {
    const given = { id: input.id, label: requireText('label', input.label), cropId: input.cropId };
    return this.recorder.record(tx, actor, Calibration, given, () => ({ uses: [{ kind: 'crop', id: input.cropId, role: 'of' }] }));
  }

  /**
   * Fits the readings of released runs and freezes the fit.
   *
   * @throws ProblemError `STATE` for runs not released or stale RWC, InputError where the numbers do not allow a fit
   */
  fit(tx: Tx, actor: Actor, input: FitCalibrationInput): Promise<Written<CalibrationVersion>> {
    const family = input.family ?? 'LOG_LINEAR';
    return this.recorder.record(tx, actor, CalibrationVersion, { id: input.id, calibrationId: input.calibrationId, family }, async () => {
      await holdFactsStill(tx);
      const calibration = await rowById(tx, Calibration, input.calibrationId);
      if (!calibration) throw notFound('calibrationId', 'The calibration');
      const runs = await requireReleasedRuns(tx, input.dryingRunIds);
      const leafEffects = input.leafEffects ?? 'AUTO';
      if (leafEffects === 'HEIGHT_AND_SLOPE_APART') {
        throw new InputError('NOT_FROZEN', 'leafEffects', 'lets height and slope differ independently, which holds at one water content only', 'Freeze it with correlated height and slope.');
      }
      const series = ofLeaves(await newestSeriesOfRuns(tx, input.dryingRunIds), calibration.cropId, input.leafIds);
      requireFresh(series);
      const points = pointsOf(series, input.exclusions ?? []);
      return {
        derived: {
          codeVersion,
          version: await nextVersion(tx, calibration.id),
          rigId: runs[0]!.rigId,
          document: computeCalibration(family, points, input.dryingRunIds, leafEffects),
        },
        uses: [
          { kind: 'calibration', id: calibration.id, role: 'of' },
          { kind: 'rig', id: runs[0]!.rigId, role: 'on' },
          ...series.map(({ id }): Use => ({ kind: 'rwc_series', id, role: 'fitted' })),
        ],
        action: 'compute',
      };
    });
  }
}

/** The series of a crop, and of some of its leaves only where they are named. */
export const ofLeaves = (series: readonly SeriesForFit[], cropId: string, leafIds: readonly string[] | null | undefined): SeriesForFit[] =>
  series.filter((one) => one.cropId === cropId && (!leafIds || leafIds.includes(one.leafId)));

export async function requireReleasedRuns(tx: Tx, ids: readonly string[]): Promise<DryingRun[]> {
  if (ids.length === 0) throw new InputError('MISSING', 'dryingRunIds', 'names no run', 'Choose at least one released run.');
  const runs = await rowsByIds(tx, DryingRun, ids);
  if (runs.length < new Set(ids).size) throw notFound('dryingRunIds', 'One of the drying runs');
  const states = await statesOfRuns(tx, ids);
  const unreleased = runs.find(({ id }) => states.get(id) !== 'RELEASED');
  if (unreleased) throw new ProblemError('STATE', 'dryingRunIds', `Run ${unreleased.label} is not released.`, 'Release it first, or leave it out.');
  if (new Set(runs.map(({ rigId }) => rigId)).size > 1) {
    throw new ProblemError('OUT_OF_SCOPE', 'dryingRunIds', 'These runs were made on different rigs.', 'Fit one rig at a time: transmittance depends on the optical set-up.');
  }
  return runs;
}

export function requireFresh(series: readonly SeriesForFit[]): void {
  const stale = series.filter((one) => one.stale);
  if (stale.length > 0) {
    throw new ProblemError('STATE', 'dryingRunIds', `The RWC of ${stale.map(({ discLabel }) => discLabel).join(', ')} is stale.`, 'Compute it anew from the amended facts, then fit.');
  }
}

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
