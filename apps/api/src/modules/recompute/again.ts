import type { Tx } from '../../platform/database/database.js';
import type { KeptRow } from '../../platform/database/kept-row.js';
import { rowById, rowsByIds } from '../../platform/database/rows.js';
import { asProblem } from '../../platform/errors/problem.js';
import type { ResultKind } from '../amendment/amendment.repository.js';
import { Weighing } from '../bench/bench.entity.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { seriesByIds } from '../calibration/calibration.repository.js';
import { pointsOf } from '../calibration/points.js';
import { exclusionsOfParent, parentVersion, refitPoints } from '../calibration/refit.js';
import { computeCalibration } from '../calibration/compute.js';
import { LightReference, ThresholdCertificate } from '../certificate/certificate.entity.js';
import { computeCertificate } from '../certificate/compute.js';
import { computeCurve } from '../device/compute.js';
import { BiasSweep, BiasThresholdCurve, TripTest } from '../device/device.entity.js';
import { Disc } from '../sample/sample.entity.js';
import { packOfAdoption } from '../share/adoption.service.js';
import { CalibrationAdoption } from '../share/share.entity.js';
import { documentFrom } from '../share/statement.js';
import { RwcSeries } from '../water/rwc-series.entity.js';
import { studyReadings, studyThickness } from '../transfer/compute.js';
import { TransferStudy } from '../transfer/transfer.entity.js';
import { givenThickness, givenVersion, remarksOn, withMasses } from '../transfer/transfer-input.js';
import { adjustedDocument } from '../transfer/transfer.service.js';
import { rwcFrom } from '../water/water.service.js';
import { Trip } from '../field/field.entity.js';
import { adviseFrom } from '../zone/advise.js';
import { factsOfAdvice } from '../zone/zone-events.js';
import { ZoneAdvice, ZoneRule } from '../zone/zone.entity.js';
import { observedFacts, readingsThen, usedBy, type UsedRecord } from './recompute.repository.js';

/** What a result becomes: a document, or the sentence by which the computation refused. */
export type Outcome = { readonly document: object } | { readonly refused: string };

export interface Computed {
  readonly codeVersionThen: string;
  /** The frozen document, without what was no computing. */
  readonly then: object;
  readonly now: Outcome;
}

/** What is taken instead of the facts and results that a result used. */
export interface Supposition {
  /** The fact to take instead, or null to do without it. */
  fact<E extends KeptRow>(kind: string, fact: E): E | null;
  /** The document to take instead of a frozen one, or null where the result itself cannot be had any more. */
  result<D extends object>(id: string, frozen: D): D | null;
}

/** Everything as it was recorded. */
export const AS_RECORDED: Supposition = { fact: (_, fact) => fact, result: (_, frozen) => frozen };

export type Recomputable = ResultKind;

/** How each kind of result is computed again, from the records that its lineage names. Nothing is written. */
export const AGAIN: Readonly<Record<Recomputable, (tx: Tx, id: string, suppose: Supposition) => Promise<Computed>>> = {
  rwc_series: seriesAgain,
  calibration_version: calibrationAgain,
  transfer_study: transferAgain,
  bias_threshold_curve: curveAgain,
  threshold_certificate: certificateAgain,
  zone_advice: adviceAgain,
};

const idsOf = (used: readonly UsedRecord[], kind: string): string[] => used.filter((one) => one.kind === kind).map(({ id }) => id);

const supposed = <E extends KeptRow>(suppose: Supposition, kind: string, facts: readonly E[]): E[] => facts.flatMap((fact) => suppose.fact(kind, fact) ?? []);

/** A refusal is an outcome too: the frozen document then has no counterpart. */
async function outcomeOf(compute: () => object | Promise<object>): Promise<Outcome> {
  try {
    return { document: await compute() };
  } catch (error) {
    const refusal = asProblem(error);
    if (!refusal) throw error;
    return { refused: refusal.problem.message };
  }
}

async function seriesAgain(tx: Tx, id: string, suppose: Supposition): Promise<Computed> {
  const series = (await rowById(tx, RwcSeries, id))!;
  const disc = (await rowById(tx, Disc, series.discId))!;
  const used = await usedBy(tx, id);
  const weighings = supposed(suppose, 'weighing', await observedFacts(tx, Weighing, idsOf(used, 'weighing')));
  const readingsOf = async (run: string): ReturnType<typeof readingsThen> => supposed(suppose, 'meter_reading', await readingsThen(tx, run, series.recordedAt));
  const now = await outcomeOf(async () => (await rwcFrom(tx, disc, { weighings, dryingRunId: series.dryingRunId, readingsOf })).document);
  return { codeVersionThen: series.codeVersion, then: series.document, now };
}

async function calibrationAgain(tx: Tx, id: string, suppose: Supposition): Promise<Computed> {
  const version = (await rowById(tx, CalibrationVersion, id))!;
  if (version.calibrationAdoptionId) {
    const adoption = (await rowById(tx, CalibrationAdoption, version.calibrationAdoptionId))!;
    const now = await outcomeOf(async () => {
      const { statement, points } = await packOfAdoption(tx, adoption);
      return documentFrom(statement, points);
    });
    return { codeVersionThen: version.codeVersion, then: version.document, now };
  }
  const frozen = await seriesByIds(tx, idsOf(await usedBy(tx, id), 'rwc_series'));
  const series = frozen.flatMap((one) => {
    const document = suppose.result(one.id, one.document);
    return document ? [{ ...one, document }] : [];
  });
  const exclusions = exclusionsOf(version.document.points, series);
  const { adjustedFrom, refitOf, dryingRunIds, leafEffects, curveSpread = 'LEAF_MEANS' } = version.document;
  const now = await outcomeOf(async () => {
    if (refitOf) {
      const parent = await parentVersion(tx, refitOf.id, suppose.result);
      const left = exclusionsOfParent(version.document.points, parent.document.points);
      return computeCalibration(version.family, refitPoints(parent, series, { own: exclusions, parent: left }), dryingRunIds, leafEffects, { refitOf }, curveSpread);
    }
    const points = pointsOf(series, exclusions);
    if (!adjustedFrom) return computeCalibration(version.family, points, dryingRunIds, leafEffects, {}, curveSpread);
    const { given, document } = await givenVersion(tx, adjustedFrom.id, suppose.result);
    return adjustedDocument(adjustedFrom.studyId, { given, dryingRunIds }, document, points);
  });
  return { codeVersionThen: version.codeVersion, then: version.document, now };
}

async function transferAgain(tx: Tx, id: string, suppose: Supposition): Promise<Computed> {
  const study = (await rowById(tx, TransferStudy, id))!;
  const then = study.document;
  const used = await usedBy(tx, id);
  const now = await outcomeOf(async () => {
    const judged = await givenVersion(tx, then.given.id, suppose.result);
    if (then.basis === 'WATER_THICKNESS') {
      const weighings = supposed(suppose, 'weighing', await observedFacts(tx, Weighing, idsOf(used, 'weighing')));
      const { points, diameters } = await givenThickness(tx, judged, then.givenDiameters);
      const discs = await withMasses(tx, then.discs.map(({ turgidMassMg: _, dryMassMg: __, uTurgidMg: ___, uDryMg: ____, ...disc }) => disc), weighings);
      return studyThickness(judged.given, points, diameters, discs, then.request, await remarksOn(tx, judged, study.cropId, []));
    }
    const frozen = await seriesByIds(tx, idsOf(used, 'rwc_series'));
    const series = frozen.flatMap((one) => {
      const document = suppose.result(one.id, one.document);
      return document ? [{ ...one, document }] : [];
    });
    const own = pointsOf(series, exclusionsOf(then.points, series)).map(({ residual: _, ...point }) => point);
    return studyReadings(judged.given, own, then.request, await remarksOn(tx, judged, study.cropId, series));
  });
  return { codeVersionThen: study.codeVersion, then, now };
}

/** Which readings a person left out, and why, is a fact of the result itself; some may be gone under a supposition. */
function exclusionsOf(
  points: readonly { readonly used: boolean; readonly meterReadingId: string; readonly exclusionReason: string | null }[], series: readonly { readonly document: { readonly readings: readonly { readonly meterReadingId: string }[] } }[],
): { meterReadingId: string; reason: string }[] {
  const there = new Set(series.flatMap(({ document }) => document.readings.map(({ meterReadingId }) => meterReadingId)));
  return points.filter(({ used, meterReadingId }) => !used && there.has(meterReadingId)).map(({ meterReadingId, exclusionReason }) => ({ meterReadingId, reason: exclusionReason! }));
}

async function curveAgain(tx: Tx, id: string, suppose: Supposition): Promise<Computed> {
  const curve = (await rowById(tx, BiasThresholdCurve, id))!;
  const used = await usedBy(tx, id);
  const tests = supposed(suppose, 'trip_test', await observedFacts(tx, TripTest, idsOf(used, 'trip_test')));
  const sweeps = supposed(suppose, 'bias_sweep', await observedFacts(tx, BiasSweep, idsOf(used, 'bias_sweep')));
  const { exponentFree, exponent } = curve.document;
  const now = await outcomeOf(() => computeCurve(tests, sweeps, exponentFree ? null : exponent));
  return { codeVersionThen: curve.codeVersion, then: curve.document, now };
}

async function certificateAgain(tx: Tx, id: string, suppose: Supposition): Promise<Computed> {
  const certificate = (await rowById(tx, ThresholdCertificate, id))!;
  const calibration = supposedResult(suppose, (await rowById(tx, CalibrationVersion, certificate.calibrationVersionId))!);
  const curve = supposedResult(suppose, (await rowById(tx, BiasThresholdCurve, certificate.biasThresholdCurveId))!);
  const light = suppose.fact('light_reference', (await rowById(tx, LightReference, certificate.lightReferenceId))!);
  const { overrides, ...then } = certificate.document;
  const missing = [calibration ? [] : ['calibration'], curve ? [] : ['bias-threshold curve'], light ? [] : ['light reference']].flat();
  if (!calibration || !curve || !light) {
    return { codeVersionThen: certificate.codeVersion, then, now: { refused: `There is no ${missing.join(' and no ')} to certify by.` } };
  }
  const now = await outcomeOf(() => {
    const outcome = computeCertificate({
      calibration, curve, light, targetRwc: certificate.targetRwc, biasStepV: then.biasStepV, biasSdV: then.biasSdV ?? null,
      falseTripRwc: certificate.falseTripRwc, missedTripRwc: certificate.missedTripRwc,
    });
    // What stood against the parts that day, such as a missing approval, was no computing; it comes first in the list.
    return { ...(outcome.possible ? outcome.document : {}), objections: outcome.objections };
  });
  const computedFlags = 'document' in now && 'objections' in now.document ? (now.document.objections as unknown[]).length : 0;
  return { codeVersionThen: certificate.codeVersion, then: { ...then, objections: computedFlags === 0 ? [] : overrides.slice(-computedFlags) }, now };
}

/** A result with the document that is supposed of it. Its hash stays: what is drawn by chance is then drawn alike, and only what was supposed moves. */
function supposedResult<R extends KeptRow & { readonly document: object }>(suppose: Supposition, result: R): R | null {
  const document = suppose.result(result.id, result.document);
  return document && { ...result, document };
}

async function adviceAgain(tx: Tx, id: string, suppose: Supposition): Promise<Computed> {
  const advice = (await rowById(tx, ZoneAdvice, id))!;
  const rule = (await rowById(tx, ZoneRule, advice.zoneRuleId))!;
  const facts = await factsOfAdvice(tx, advice.id);
  const trips = new Map((await rowsByIds(tx, Trip, facts.filter(({ kind }) => kind === 'trip').map(({ id: trip }) => trip))).map((trip) => [trip.id, trip]));
  const standing = facts.filter(({ kind, id: fact }) => kind !== 'trip' || suppose.fact('trip', trips.get(fact)!) !== null);
  return { codeVersionThen: advice.codeVersion, then: advice.document, now: await outcomeOf(() => adviseFrom(rule, standing, advice.madeFor)) };
}
