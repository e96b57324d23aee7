import { Injectable } from '@nestjs/common';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { asProblem, notFound, ProblemError } from '../../platform/errors/problem.js';
import { RESULT_KINDS } from '../amendment/amendment.repository.js';
import { Weighing } from '../bench/bench.entity.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { seriesByIds } from '../calibration/calibration.repository.js';
import { pointsOf } from '../calibration/calibration.service.js';
import { computeCalibration } from '../calibration/compute.js';
import { LightReference, ThresholdCertificate } from '../certificate/certificate.entity.js';
import { computeCertificate } from '../certificate/compute.js';
import { computeCurve } from '../device/compute.js';
import { BiasSweep, BiasThresholdCurve, TripTest } from '../device/device.entity.js';
import { Disc } from '../sample/sample.entity.js';
import { labelsOf, recordsReached, type RecordKey } from '../thread/thread.repository.js';
import { RwcSeries } from '../water/rwc-series.entity.js';
import { rwcFrom } from '../water/water.service.js';
import { differences, type ValueDifference } from './differences.js';
import { observedFacts, readingsThen, usedBy, type UsedRecord } from './recompute.repository.js';

export interface RecomputedStepView extends RecordKey {
  readonly label: string;
  readonly codeVersionThen: string;
  readonly same: boolean;
  readonly differences: readonly ValueDifference[];
}

export interface RecomputationView {
  readonly same: boolean;
  readonly codeVersion: string;
  readonly steps: readonly RecomputedStepView[];
}

/** Results of one question: each costs up to a second. */
const STEPS_MOST = 500;
const DIFFERENCES_MOST = 20;

interface Computed {
  readonly codeVersionThen: string;
  readonly then: object;
  readonly now: object;
}

/** How each kind of result is computed again, from the records that its lineage names. */
const AGAIN: Readonly<Record<(typeof RESULT_KINDS)[number], (tx: Tx, id: string) => Promise<Computed>>> = {
  rwc_series: seriesAgain,
  calibration_version: calibrationAgain,
  bias_threshold_curve: curveAgain,
  threshold_certificate: certificateAgain,
};

/** Proves that results follow from their facts: nothing is written. */
@Injectable()
export class RecomputeService {
  async recompute(tx: Tx, root: RecordKey): Promise<RecomputationView> {
    const reached = await recordsReached(tx, root, 'DOWN');
    const results = reached.filter(({ kind }) => kind in AGAIN).reverse();
    if (results.length > STEPS_MOST) {
      throw new ProblemError('INPUT', 'id', `It rests on ${results.length} results.`, `Recompute a record that rests on at most ${STEPS_MOST}.`);
    }
    const labels = await labelsOf(tx, [root, ...results]);
    if (!labels.has(root.id)) throw notFound('id', `The ${root.kind.replaceAll('_', ' ')}`);
    const steps: RecomputedStepView[] = [];
    for (const { kind, id } of results) steps.push({ kind, id, label: labels.get(id) ?? id, ...(await stepOf(tx, kind as keyof typeof AGAIN, id)) });
    return { same: steps.every(({ same }) => same), codeVersion, steps };
  }
}

async function stepOf(tx: Tx, kind: keyof typeof AGAIN, id: string): Promise<Pick<RecomputedStepView, 'codeVersionThen' | 'same' | 'differences'>> {
  const { codeVersionThen, then, now } = await AGAIN[kind](tx, id);
  // As the database keeps it: what JSON does not carry is not part of a document.
  const found = differences(then, JSON.parse(JSON.stringify(now)));
  return { codeVersionThen, same: found.length === 0, differences: found.slice(0, DIFFERENCES_MOST) };
}

const idsOf = (used: readonly UsedRecord[], kind: string): string[] => used.filter((one) => one.kind === kind).map(({ id }) => id);

/** A refusal is an outcome too: the frozen document then has no counterpart. */
async function orRefusal(compute: () => object | Promise<object>): Promise<object> {
  try {
    return await compute();
  } catch (error) {
    const refusal = asProblem(error);
    if (!refusal) throw error;
    return { refused: refusal.problem.message };
  }
}

async function seriesAgain(tx: Tx, id: string): Promise<Computed> {
  const series = (await rowById(tx, RwcSeries, id))!;
  const disc = (await rowById(tx, Disc, series.discId))!;
  const used = await usedBy(tx, id);
  const weighings = await observedFacts(tx, Weighing, idsOf(used, 'weighing'));
  const now = await orRefusal(async () => {
    const { document } = await rwcFrom(tx, disc, { weighings, dryingRunId: series.dryingRunId, readingsOf: (run) => readingsThen(tx, run, series.recordedAt) });
    return document;
  });
  return { codeVersionThen: series.codeVersion, then: series.document, now };
}

async function calibrationAgain(tx: Tx, id: string): Promise<Computed> {
  const version = (await rowById(tx, CalibrationVersion, id))!;
  const series = await seriesByIds(tx, idsOf(await usedBy(tx, id), 'rwc_series'));
  // Which readings a person left out, and why, is a fact of the version itself.
  const exclusions = version.document.points.filter(({ used }) => !used).map(({ meterReadingId, exclusionReason }) => ({ meterReadingId, reason: exclusionReason! }));
  const now = await orRefusal(() => computeCalibration(version.family, pointsOf(series, exclusions), version.document.dryingRunIds));
  return { codeVersionThen: version.codeVersion, then: version.document, now };
}

async function curveAgain(tx: Tx, id: string): Promise<Computed> {
  const curve = (await rowById(tx, BiasThresholdCurve, id))!;
  const used = await usedBy(tx, id);
  const tests = await observedFacts(tx, TripTest, idsOf(used, 'trip_test'));
  const sweeps = await observedFacts(tx, BiasSweep, idsOf(used, 'bias_sweep'));
  const { exponentFree, exponent } = curve.document;
  const now = await orRefusal(() => computeCurve(tests, sweeps, exponentFree ? null : exponent));
  return { codeVersionThen: curve.codeVersion, then: curve.document, now };
}

async function certificateAgain(tx: Tx, id: string): Promise<Computed> {
  const certificate = (await rowById(tx, ThresholdCertificate, id))!;
  const calibration = (await rowById(tx, CalibrationVersion, certificate.calibrationVersionId))!;
  const curve = (await rowById(tx, BiasThresholdCurve, certificate.biasThresholdCurveId))!;
  const light = (await rowById(tx, LightReference, certificate.lightReferenceId))!;
  const { overrides, ...then } = certificate.document;
  const now = await orRefusal(() => {
    const outcome = computeCertificate({ calibration, curve, light, targetRwc: certificate.targetRwc, biasStepV: then.biasStepV });
    // What stood against the parts that day, such as a missing approval, was no computing; it comes first in the list.
    return { ...(outcome.possible ? outcome.document : {}), objections: outcome.objections };
  });
  const computedFlags = 'objections' in now ? (now.objections as unknown[]).length : 0;
  return { codeVersionThen: certificate.codeVersion, then: { ...then, objections: computedFlags === 0 ? [] : overrides.slice(-computedFlags) }, now };
}
