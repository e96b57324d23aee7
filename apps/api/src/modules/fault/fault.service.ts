import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import type { ResultRow } from '../../platform/database/kept-row.js';
import { rowById, type KeptEntity } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { LightReference, ThresholdCertificate } from '../certificate/certificate.entity.js';
import { BiasThresholdCurve } from '../device/device.entity.js';
import { Decision, Installation, Trip } from '../field/field.entity.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { AGAIN, AS_RECORDED, type Recomputable, type Supposition } from '../recompute/again.js';
import type { RecordKey } from '../thread/thread.repository.js';
import { RwcSeries } from '../water/rwc-series.entity.js';
import { factsOf, touchedBy, type Touched } from './fault.repository.js';
import {
  calibrationMoves, certificateMoves, curveMoves, inferredMove, seriesMoves, tripRwcMove, type MovedValue, type Thrice, type TripBasis,
} from './moves.js';
import { readCorrection, withCorrection, withoutFacts } from './suppose.js';

/** What is asked: an instrument and a span of time, both ends counted. */
export interface FaultQuestion {
  readonly instrumentId: string;
  readonly from: string;
  readonly to: string;
}

export interface CorrectionAsked {
  readonly offset?: string | null;
  readonly span?: string | null;
}

export interface Reach {
  readonly instrument: Instrument;
  readonly facts: readonly RecordKey[];
  readonly touched: readonly Touched[];
  readonly truncated: boolean;
}

export interface Moved {
  readonly record: Touched;
  readonly values: readonly MovedValue[];
  /** Why it cannot be had without the facts, or with them corrected. */
  readonly withoutRefused: string | null;
  readonly correctedRefused: string | null;
}

export interface FaultMoves {
  readonly reach: Reach;
  readonly corrected: boolean;
  readonly moved: readonly Moved[];
}

const TOUCHED_MOST = 5_000;
/** Results computed for one question, each two or three times, each up to a second. */
const RESULTS_MOST = 300;

/** What one supposition makes of the results, in the order of the chain. */
class Scenario {
  private readonly outcomes = new Map<string, { readonly document: object } | { readonly refused: string }>();

  constructor(private readonly fact: Supposition['fact']) {}

  async compute(tx: Tx, kind: Recomputable, id: string): Promise<{ readonly codeVersionThen: string; readonly frozen: object }> {
    const { codeVersionThen, then, now } = await AGAIN[kind](tx, id, { fact: this.fact, result: (result, frozen) => this.documentOf(result, frozen) });
    // A certificate without a bias is a list of what stands against it.
    const impossible = kind === 'threshold_certificate' && 'document' in now && !('biasV' in now.document);
    this.outcomes.set(id, impossible ? { refused: objectionsIn(now.document) } : now);
    return { codeVersionThen, frozen: then };
  }

  keep(id: string, document: object): void {
    this.outcomes.set(id, { document });
  }

  /** The frozen document stands for what the supposition does not reach. */
  documentOf<D extends object>(id: string, frozen: D): D | null {
    const outcome = this.outcomes.get(id);
    return !outcome ? frozen : 'document' in outcome ? (outcome.document as D) : null;
  }

  refusalOf(id: string): string | null {
    const outcome = this.outcomes.get(id);
    return outcome && 'refused' in outcome ? outcome.refused : null;
  }
}

const objectionsIn = (document: object): string =>
  (document as { objections: readonly { severity: string; message: string }[] }).objections.filter(({ severity }) => severity === 'ASK').map(({ message }) => message).join(' ');

/** Follows a fault of an instrument up to decisions, and computes how far it moves them. Nothing is written. */
@Injectable()
export class FaultService {
  async reachOf(tx: Tx, question: FaultQuestion): Promise<Reach> {
    const [from, to] = [parseMoment('from', question.from).at, parseMoment('to', question.to).at];
    if (from > to) throw new InputError('ORDER', 'to', 'is before the beginning of the span', 'Give the earlier moment as from.');
    const instrument = await rowById(tx, Instrument, question.instrumentId);
    if (!instrument) throw notFound('instrumentId', 'The instrument');
    const facts = await factsOf(tx, instrument.kind, instrument.id, from, to);
    if (!facts) {
      throw new ProblemError('INPUT', 'instrumentId', `No fact names the ${instrument.kind.toLowerCase().replaceAll('_', ' ')} it was made with.`, 'Look for the trip tests of that time in the ledger.');
    }
    const reached = await touchedBy(tx, facts.map(({ id }) => id), TOUCHED_MOST + 1);
    return { instrument, facts, touched: reached.slice(0, TOUCHED_MOST), truncated: reached.length > TOUCHED_MOST };
  }

  /** @throws ProblemError `INPUT` where more than 300 results would have to be computed */
  async movesOf(tx: Tx, question: FaultQuestion, asked: CorrectionAsked): Promise<FaultMoves> {
    const reach = await this.reachOf(tx, question);
    const correction = readCorrection(reach.instrument, asked.offset, asked.span);
    const results = reach.touched.filter(({ kind }) => kind in AGAIN);
    if (results.length > RESULTS_MOST) {
      throw new ProblemError('INPUT', 'to', `The fault reaches ${results.length} results.`, `Ask for shorter spans: at most ${RESULTS_MOST} results are computed at once.`);
    }
    const ids = new Set(reach.facts.map(({ id }) => id));
    const then = new Scenario(AS_RECORDED.fact);
    const without = new Scenario(withoutFacts(ids));
    const corrected = correction && new Scenario(withCorrection(ids, correction));
    for (const { kind, id } of results as (Touched & { kind: Recomputable })[]) {
      const { codeVersionThen, frozen } = await without.compute(tx, kind, id);
      await corrected?.compute(tx, kind, id);
      // The same code gives the same bytes; older results are computed anew, so that only the fault moves them and not the code.
      if (codeVersionThen === codeVersion) then.keep(id, frozen);
      else await then.compute(tx, kind, id);
    }
    const scenarios: Thrice<Scenario> = { then, without, corrected: corrected ?? undefined };
    const moved: Moved[] = [];
    for (const record of reach.touched) {
      moved.push({
        record,
        values: await valuesOf(tx, record, scenarios),
        withoutRefused: without.refusalOf(record.id),
        correctedRefused: corrected?.refusalOf(record.id) ?? null,
      });
    }
    return { reach, corrected: corrected !== null, moved };
  }
}

/** A result's document under each supposition; null where code of today gives none from the very facts. */
function docsOf<D extends object>(scenarios: Thrice<Scenario>, id: string, frozen: D): Thrice<D> {
  const { then, without, corrected } = scenarios;
  return {
    then: then.documentOf(id, frozen) ?? frozen,
    without: without?.documentOf(id, frozen) ?? null,
    corrected: corrected?.documentOf(id, frozen),
  };
}

async function valuesOf(tx: Tx, { kind, id }: RecordKey, scenarios: Thrice<Scenario>): Promise<MovedValue[]> {
  switch (kind) {
    case 'rwc_series': return seriesMoves(await documents(tx, RwcSeries, id, scenarios));
    case 'calibration_version': {
      const version = (await rowById(tx, CalibrationVersion, id))!;
      return calibrationMoves(version.family, docsOf(scenarios, id, version.document));
    }
    case 'bias_threshold_curve': return curveMoves(await documents(tx, BiasThresholdCurve, id, scenarios));
    case 'threshold_certificate': {
      const certificate = (await rowById(tx, ThresholdCertificate, id))!;
      const basis = await tripBasis(tx, certificate, scenarios);
      return [tripRwcMove('RWC at which the bias issued trips', basis, certificate.document.biasV), ...certificateMoves(docsOf(scenarios, id, certificate.document))];
    }
    case 'installation': {
      const installation = (await rowById(tx, Installation, id))!;
      const basis = await tripBasis(tx, (await rowById(tx, ThresholdCertificate, installation.thresholdCertificateId))!, scenarios);
      return [tripRwcMove('RWC at which it trips with the bias read back', basis, Number(installation.biasReadbackV))];
    }
    case 'trip': return tripMoves(tx, id, 'RWC inferred at the trip', scenarios);
    case 'decision': {
      const { tripIds } = (await rowById(tx, Decision, id))!;
      const moves: MovedValue[] = [];
      for (const [i, tripId] of tripIds.entries()) {
        moves.push(...(await tripMoves(tx, tripId, tripIds.length === 1 ? 'RWC inferred at its trip' : `RWC inferred at its trip ${i + 1}`, scenarios)));
      }
      return moves;
    }
    default: return [];
  }
}

async function documents<D extends object>(tx: Tx, entity: KeptEntity<ResultRow & { document: D }>, id: string, scenarios: Thrice<Scenario>): Promise<Thrice<D>> {
  return docsOf(scenarios, id, (await rowById(tx, entity, id))!.document);
}

async function tripMoves(tx: Tx, tripId: string, name: string, scenarios: Thrice<Scenario>): Promise<MovedValue[]> {
  const trip = (await rowById(tx, Trip, tripId))!;
  if (trip.lightPowerNw === null) return [];
  const installation = (await rowById(tx, Installation, trip.installationId))!;
  const basis = await tripBasis(tx, (await rowById(tx, ThresholdCertificate, installation.thresholdCertificateId))!, scenarios);
  return [inferredMove(name, basis, Number(trip.lightPowerNw))];
}

async function tripBasis(tx: Tx, certificate: ThresholdCertificate, scenarios: Thrice<Scenario>): Promise<TripBasis> {
  const calibration = (await rowById(tx, CalibrationVersion, certificate.calibrationVersionId))!;
  const curve = (await rowById(tx, BiasThresholdCurve, certificate.biasThresholdCurveId))!;
  const light = (await rowById(tx, LightReference, certificate.lightReferenceId))!;
  return {
    certificate,
    calibration,
    calibrationDocs: docsOf(scenarios, calibration.id, calibration.document),
    curveDocs: docsOf(scenarios, curve.id, curve.document),
    lightPowerNw: Number(light.powerNw),
  };
}
