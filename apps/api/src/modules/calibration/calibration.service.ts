import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { FitCalibrationInput, RecordCalibrationInput } from '../../generated/schema.js';
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
import { Calibration, CalibrationVersion } from './calibration.entity.js';
import { newestSeriesOfRuns, nextVersion, type SeriesForFit } from './calibration.repository.js';
import { computeCalibration } from './compute.js';
import { pointsOf } from './points.js';
import { partExclusions, refitPoints, requireRefittable, type ParentVersion } from './refit.js';

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
      const parent = input.refitOf ? await requireRefittable(tx, input.refitOf, calibration.cropId) : null;
      const rigId = await rigOf(tx, input.dryingRunIds, parent);
      const leafEffects = input.leafEffects ?? 'AUTO';
      if (leafEffects === 'HEIGHT_AND_SLOPE_APART') {
        throw new InputError('NOT_FROZEN', 'leafEffects', 'lets height and slope differ independently, which holds at one water content only', 'Freeze it with correlated height and slope.');
      }
      const series = ofLeaves(await newestSeriesOfRuns(tx, input.dryingRunIds), calibration.cropId, input.leafIds);
      requireFresh(series);
      const exclusions = input.exclusions ?? [];
      const points = parent ? refitPoints(parent, series, partExclusions(parent, exclusions)) : pointsOf(series, exclusions);
      return {
        derived: {
          codeVersion,
          version: await nextVersion(tx, calibration.id),
          rigId,
          document: computeCalibration(family, points, input.dryingRunIds, leafEffects, parent ? { refitOf: { id: parent.id, label: parent.label } } : {}),
        },
        uses: [
          { kind: 'calibration', id: calibration.id, role: 'of' },
          { kind: 'rig', id: rigId, role: 'on' },
          ...(parent ? [{ kind: 'calibration_version', id: parent.id, role: 'refitted from' }] : []),
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

/** The rig of the runs; of the parent where a refit has no run of its own. Both must be one: transmittance depends on the set-up. */
export async function rigOf(tx: Tx, dryingRunIds: readonly string[], parent: ParentVersion | null): Promise<string> {
  if (parent && dryingRunIds.length === 0) return parent.rigId;
  const [run] = await requireReleasedRuns(tx, dryingRunIds);
  if (parent && run!.rigId !== parent.rigId) {
    throw new ProblemError('OUT_OF_SCOPE', 'dryingRunIds', `These runs were made on another rig than the one that ${parent.label} stands for.`, 'Choose runs of that rig, or study the transfer instead: it tells an offset between rigs.');
  }
  return run!.rigId;
}

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
