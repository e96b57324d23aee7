import { Injectable } from '@nestjs/common';
import type { CalibrationStudyInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound } from '../../platform/errors/problem.js';
import type { Actor } from '../../platform/identity/actor.js';
import type { JobRow } from '../../platform/jobs/job.repository.js';
import { Jobs } from '../../platform/jobs/jobs.js';
import { Threads } from '../../platform/jobs/threads.js';
import { Calibration } from './calibration.entity.js';
import { newestSeriesOfRuns, operatorsOf } from './calibration.repository.js';
import { ofLeaves, rigOf } from './calibration.service.js';
import { pointsOf } from './points.js';
import { partExclusions, refitPoints, requireRefittable } from './refit.js';
import type { ComparisonDocument, StudyDocument, StudyInput } from './study-document.js';

const TASK = new URL('./study.task.js', import.meta.url);
const COMPARE = 'compare calibrations';

/** The builder: readings looked at before a version is frozen. Computes in threads; long comparisons as a job. */
@Injectable()
export class StudyService {
  constructor(private readonly jobs: Jobs, private readonly threads: Threads) {
    jobs.define<CalibrationStudyInput>({
      name: COMPARE,
      run: async (payload, { read, signal, progress }) => {
        progress(0, 'Reading the runs');
        const input = await read((tx) => this.inputOf(tx, payload));
        const outcome = await this.threads.run<ComparisonDocument>(TASK, { compare: true, input }, { signal, progress });
        return () => ({ outcome });
      },
    });
  }

  async study(tx: Tx, input: CalibrationStudyInput): Promise<{ input: StudyInput; study: StudyDocument }> {
    const known = await this.inputOf(tx, input);
    return { input: known, study: await this.threads.run<StudyDocument>(TASK, { compare: false, input: known }) };
  }

  /** Refuses at once what the job would refuse. */
  async compare(tx: Tx, actor: Actor, id: string, input: CalibrationStudyInput): Promise<JobRow> {
    await this.inputOf(tx, input);
    const { label } = (await rowById(tx, Calibration, input.calibrationId))!;
    return this.jobs.start(tx, actor, COMPARE, `Comparison for ${label}`, input, id);
  }

  private async inputOf(tx: Tx, input: CalibrationStudyInput): Promise<StudyInput> {
    const calibration = await rowById(tx, Calibration, input.calibrationId);
    if (!calibration) throw notFound('calibrationId', 'The calibration');
    const parent = input.refitOf ? await requireRefittable(tx, input.refitOf, calibration.cropId) : null;
    await rigOf(tx, input.dryingRunIds, parent);
    const series = ofLeaves(await newestSeriesOfRuns(tx, input.dryingRunIds), calibration.cropId, input.leafIds);
    // While one tries out, a reason may still be missing: it is asked for when the version is frozen.
    const reasons = (input.exclusions ?? []).map(({ meterReadingId, reason }) => ({ meterReadingId, reason: reason.trim() || 'no reason given yet' }));
    const points = parent ? refitPoints(parent, series, partExclusions(parent, reasons)) : pointsOf(series, reasons);
    const readings = new Map(series.flatMap(({ document }) => document.readings.map((reading) => [reading.meterReadingId, { at: reading.at, turgid: document.turgidTransmittance }])));
    const operators = await operatorsOf(tx, [...readings.keys()]);
    const places = new Map([...readings].sort(([, a], [, b]) => (a.at < b.at ? -1 : 1)).map(([id], place) => [id, place + 1]));
    const middle = points.reduce((sum, { rwc }) => sum + rwc, 0) / points.length;
    return {
      points: points.map(({ residual: _residual, ...point }, i) => ({
        ...point,
        // Of a parent's reading only the numbers are known here; it was taken before.
        turgidTransmittance: readings.get(point.meterReadingId)?.turgid ?? null,
        day: readings.get(point.meterReadingId)?.at.slice(0, 10) ?? `of ${parent!.label}`,
        operator: operators.get(point.meterReadingId) ?? (readings.has(point.meterReadingId) ? 'unknown' : `of ${parent!.label}`),
        order: readings.has(point.meterReadingId) ? points.length - readings.size + places.get(point.meterReadingId)! : i + 1,
      })),
      family: input.family ?? 'LOG_LINEAR',
      leafEffects: input.leafEffects ?? 'AUTO',
      level: input.level ?? 0.95,
      share: input.share ?? 0.95,
      confidence: input.confidence ?? 0.95,
      atRwc: input.atRwc ?? middle,
      wantedHalfWidthPoints: input.wantedHalfWidthPoints ?? null,
    };
  }
}
