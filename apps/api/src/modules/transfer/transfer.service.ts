import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { AdjustCalibrationInput, StudyTransferInput, StudyWaterThicknessInput } from '../../generated/schema.js';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Threads } from '../../platform/jobs/threads.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { holdFactsStill, staleAmong } from '../amendment/amendment.repository.js';
import { Weighing } from '../bench/bench.entity.js';
import type { CalibrationDocument } from '../calibration/calibration-document.js';
import { Calibration, CalibrationVersion } from '../calibration/calibration.entity.js';
import { newestSeriesOfRuns, nextVersion, type SeriesForFit } from '../calibration/calibration.repository.js';
import { ofLeaves, requireFresh, requireReleasedRuns } from '../calibration/calibration.service.js';
import { pointsOf } from '../calibration/points.js';
import { computeCalibration } from '../calibration/compute.js';
import { Crop } from '../sample/sample.entity.js';
import { studyThickness } from './compute.js';
import type { ReadingsDocument, ReadingsRequest, TransferPoint } from './transfer-document.js';
import { TransferStudy } from './transfer.entity.js';
import { givenThickness, givenVersion, remarksOn, weighedDiscs, withMasses } from './transfer-input.js';

const TASK = new URL('./transfer.task.js', import.meta.url);

/** Whether a calibration may be used where it was not made, and what is made of it there. */
@Injectable()
export class TransferService {
  constructor(private readonly recorder: Recorder, private readonly threads: Threads) {}

  /** @throws ProblemError `STATE` for runs not released or stale RWC, InputError where the numbers allow no study */
  studyReadings(tx: Tx, actor: Actor, input: StudyTransferInput): Promise<Written<TransferStudy>> {
    const given = { id: input.id, calibrationVersionId: input.calibrationVersionId, cropId: input.cropId, basis: 'READINGS' as const };
    return this.recorder.record(tx, actor, TransferStudy, given, async () => {
      await holdFactsStill(tx);
      const judged = await givenVersion(tx, input.calibrationVersionId);
      const [run] = await requireReleasedRuns(tx, input.dryingRunIds);
      const series = ofLeaves(await newestSeriesOfRuns(tx, input.dryingRunIds), input.cropId, input.leafIds);
      requireFresh(series);
      requireOthers(judged.document, series);
      const own = pointsOf(series, input.exclusions ?? []).map(({ residual: _, ...point }) => point);
      const request = requestOf(input);
      const remarks = await remarksOn(tx, judged, input.cropId, series);
      const document = await this.threads.run<ReadingsDocument>(TASK, { given: judged.given, own, request, remarks });
      return {
        derived: { codeVersion, document },
        uses: [
          { kind: judged.given.kind, id: judged.given.id, role: 'judged' },
          { kind: 'rig', id: run!.rigId, role: 'on' },
          ...series.map(({ id }): Use => ({ kind: 'rwc_series', id, role: 'own leaves' })),
        ],
        action: 'compute',
      };
    });
  }

  studyThickness(tx: Tx, actor: Actor, input: StudyWaterThicknessInput): Promise<Written<TransferStudy>> {
    const given = { id: input.id, calibrationVersionId: input.calibrationVersionId, cropId: input.cropId, basis: 'WATER_THICKNESS' as const };
    return this.recorder.record(tx, actor, TransferStudy, given, async () => {
      await holdFactsStill(tx);
      const judged = await givenVersion(tx, input.calibrationVersionId);
      if (!(await rowById(tx, Crop, input.cropId))) throw notFound('cropId', 'The crop');
      const { points, diameters } = await givenThickness(tx, judged, null);
      const { discs, weighingIds } = await weighedDiscs(tx, input.cropId, input.discIds ?? null);
      if (discs.length === 0) {
        throw new ProblemError('STATE', 'cropId', 'No disc of this crop has a turgid mass, a dry mass and a diameter.', 'Weigh discs of two leaves or more turgid and oven-dry, and enter the diameter of the punch.');
      }
      const weighed = await withMasses(tx, discs, await rowsByIds(tx, Weighing, weighingIds));
      const request = { structureSd: input.structureSd ?? 0.08, level: input.level ?? 0.95 };
      const document = studyThickness(judged.given, points, diameters, weighed, request, await remarksOn(tx, judged, input.cropId, []));
      return {
        derived: { codeVersion, document },
        uses: [
          { kind: judged.given.kind, id: judged.given.id, role: 'judged' },
          ...weighed.map(({ discId }): Use => ({ kind: 'disc', id: discId, role: 'own leaves' })),
          ...weighingIds.map((id): Use => ({ kind: 'weighing', id, role: 'own masses' })),
        ],
        action: 'compute',
      };
    });
  }

  /** A draft version from a study that holds: reviewed and approved as any other. */
  adjust(tx: Tx, actor: Actor, input: AdjustCalibrationInput): Promise<Written<CalibrationVersion>> {
    return this.recorder.record(tx, actor, CalibrationVersion, { id: input.id, calibrationId: input.calibrationId }, async () => {
      await holdFactsStill(tx);
      const calibration = await rowById(tx, Calibration, input.calibrationId);
      if (!calibration) throw notFound('calibrationId', 'The calibration');
      const study = await rowById(tx, TransferStudy, input.transferStudyId);
      if (!study) throw notFound('transferStudyId', 'The transfer study');
      const readings = requireAdjustable(study);
      if (calibration.cropId !== study.cropId) throw new ProblemError('OUT_OF_SCOPE', 'calibrationId', 'This calibration is of another crop than the own leaves of the study.', 'Choose or begin one of their crop.');
      if ((await staleAmong(tx, [study.id])).size > 0) throw new ProblemError('STATE', 'transferStudyId', 'The study is stale: a fact below it was amended.', 'Study again, then adjust.');
      const judged = await givenVersion(tx, readings.given.id);
      if (!judged.document.points.some(({ used, besideId }) => used && besideId === undefined)) {
        throw new ProblemError('STATE', 'transferStudyId', `Of ${judged.given.label} only its line is known here, not its readings.`, 'Ask its owner to share it with its points, or fit own leaves alone.');
      }
      const [run] = await requireReleasedRuns(tx, readings.request.dryingRunIds);
      return {
        derived: {
          codeVersion, family: readings.given.family, rigId: run!.rigId, version: await nextVersion(tx, calibration.id),
          document: adjustedDocument(study.id, { given: readings.given, dryingRunIds: readings.request.dryingRunIds }, judged.document, readings.points),
        },
        uses: [
          { kind: 'calibration', id: calibration.id, role: 'of' },
          { kind: 'rig', id: run!.rigId, role: 'on' },
          { kind: judged.given.kind, id: judged.given.id, role: 'adjusted from' },
          { kind: 'transfer_study', id: study.id, role: 'adjusted by' },
          ...[...new Set(readings.points.map(({ rwcSeriesId }) => rwcSeriesId))].map((id): Use => ({ kind: 'rwc_series', id, role: 'fitted' })),
        ],
        action: 'compute',
      };
    });
  }
}

/** Own points as they are, those of the given version beside them: slope and spread from both, height from the own leaves alone. */
export function adjustedDocument(
  studyId: string, { given, dryingRunIds }: { readonly given: ReadingsDocument['given']; readonly dryingRunIds: readonly string[] }, document: CalibrationDocument, own: readonly Omit<TransferPoint, 'readRwc'>[],
): CalibrationDocument {
  const points: CalibrationDocument['points'] = [
    ...own.map((point) => ({ ...bare(point), residual: null })),
    // Of a version that was adjusted itself, its own leaves stand for it.
    ...document.points.filter(({ used, besideId }) => used && besideId === undefined).map((point) => ({ ...point, residual: null, besideId: given.id })),
  ];
  return computeCalibration(given.family, points, dryingRunIds, 'AUTO', { adjustedFrom: { studyId, kind: given.kind, id: given.id, label: given.label } });
}

const bare = ({ rwcSeriesId, meterReadingId, leafId, leafLabel, rwc, uRwc, transmittance, uTransmittance, used, exclusionReason }: Omit<TransferPoint, 'readRwc'>) =>
  ({ rwcSeriesId, meterReadingId, leafId, leafLabel, rwc, uRwc, transmittance, uTransmittance, used, exclusionReason });

function requireAdjustable({ document }: TransferStudy): ReadingsDocument {
  if (document.basis !== 'READINGS') throw new ProblemError('STATE', 'transferStudyId', 'Water thickness alone makes no calibration.', 'Read own leaves in the light, then study them.');
  const { verdict } = document.outcome;
  if (verdict === 'holds' || verdict === 'holds with offset') return document;
  throw new ProblemError('STATE', 'transferStudyId', `The study says: ${verdict}.`, verdict === 'does not hold' ? 'Fit a version from own leaves alone.' : 'Measure the leaves it asks for, study again, then adjust.');
}

/** Leaves that a calibration was fitted to agree with it by construction. */
function requireOthers({ points }: CalibrationDocument, series: readonly SeriesForFit[]): void {
  const fitted = new Set(points.filter(({ used }) => used).map(({ leafId }) => leafId));
  const twice = [...new Set(series.filter(({ leafId }) => fitted.has(leafId)).map(({ leafLabel }) => leafLabel))];
  if (twice.length === 0) return;
  throw new ProblemError('STATE', 'leafIds', `The calibration was fitted to ${twice.length === 1 ? 'leaf' : 'leaves'} ${twice.slice(0, 5).join(', ')}${twice.length > 5 ? ` and ${twice.length - 5} more` : ''}: they agree with it by construction.`, 'Take leaves that it has not seen.');
}

function requestOf(input: StudyTransferInput): ReadingsRequest {
  const { rwcFrom, rwcTo } = input;
  if ((rwcFrom == null) !== (rwcTo == null)) throw new InputError('MISSING', rwcFrom == null ? 'rwcFrom' : 'rwcTo', 'is missing beside the other end', 'Give both ends of the RWC range, or none.');
  return {
    marginPoints: input.marginPoints, rwcRange: rwcFrom != null && rwcTo != null ? { from: rwcFrom, to: rwcTo } : null,
    alpha: input.alpha ?? 0.05, level: input.level ?? 0.95, leafEffects: input.leafEffects ?? 'AUTO', dryingRunIds: input.dryingRunIds,
  };
}
