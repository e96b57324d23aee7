import { Injectable } from '@nestjs/common';
import { InputError, requirePositive } from '#libs/quantity';
import { targetForRisk } from '#libs/switch-device';
import type { CertificateTrialInput, Flag, GuardBandTargetInput, IssueCertificateInput } from '../../generated/schema.js';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsBy } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { amendedAmong, holdFactsStill, staleAmong } from '../amendment/amendment.repository.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { scopeFindings } from '../calibration-scope/scope-findings.js';
import { BiasThresholdCurve, DeviceUnit } from '../device/device.entity.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { standingsAt } from '../instrument/instrument.repository.js';
import { bandObjections } from '../passport/band-objections.js';
import type { AbsorptionBand } from '../passport/passport.entity.js';
import { standingBands, standingRetirements } from '../passport/passport.repository.js';
import { approvalStates } from '../signature/signature.repository.js';
import type { CertificateDocument } from './certificate-document.js';
import { LightReference, ThresholdCertificate } from './certificate.entity.js';
import { computeCertificate, requestOf, sameBasis, type CertificateBasis, type CertificateOutcome } from './compute.js';

/** An outcome computed before the transaction that issues it. */
export interface WorkedOut {
  readonly basis: CertificateBasis;
  readonly outcome: CertificateOutcome;
}

/** Certificates that turn a target RWC into one unit's bias; for many units at once: batch.service.ts. */
@Injectable()
export class CertificateService {
  constructor(private readonly recorder: Recorder) {}

  /**
   * Computes and freezes a draft certificate.
   *
   * @param batch  that it belongs to, where it was asked for together with others
   * @param worked what was computed before; used where the basis still stands, computed anew where it does not
   * @throws ProblemError `OUT_OF_SCOPE` with all objections beside it, unless an override reason answers the ones that
   *   may be overridden; `COMPUTATION` where no bias exists; `STATE` for a unit out of service
   */
  issue(tx: Tx, actor: Actor, input: IssueCertificateInput, batch: string | null = null, worked: WorkedOut | null = null): Promise<Written<ThresholdCertificate>> {
    const validUntil = parseMoment('validUntil', input.validUntil).at;
    const given = {
      id: input.id,
      deviceUnitId: input.deviceUnitId,
      calibrationVersionId: input.calibrationVersionId,
      lightReferenceId: input.lightReferenceId,
      targetRwc: input.targetRwc,
      targetBasis: requireText('targetBasis', input.targetBasis),
      validUntil,
      overrideReason: optionalText(input.overrideReason),
      falseTripRwc: input.falseTripRwc ?? null,
      missedTripRwc: input.missedTripRwc ?? null,
      biasSourceId: input.biasSourceId ?? null,
      certificateBatchId: batch,
    };
    return this.recorder.record(tx, actor, ThresholdCertificate, given, async () => {
      await holdFactsStill(tx);
      const basis = await basisOf(tx, input);
      const { outcome, objections, band } = await judge(tx, basis, validUntil, worked);
      if (!outcome.possible) {
        throw new ProblemError('COMPUTATION', 'targetRwc', sentences(objections, 'ASK'), 'Choose another target, unit or light reference.', { objections });
      }
      if (objections.some(({ severity }) => severity === 'ASK') && !given.overrideReason) {
        throw new ProblemError('OUT_OF_SCOPE', 'overrideReason', sentences(objections, 'ASK'), 'Mend it, or give the reason for issuing it all the same; the reason shows in the Thread.', { objections });
      }
      return {
        derived: { codeVersion, biasThresholdCurveId: basis.curve.id, document: { ...outcome.document, overrides: objections } },
        uses: [
          { kind: 'device_unit', id: input.deviceUnitId, role: 'for' },
          { kind: 'calibration_version', id: basis.calibration.id, role: 'calibration' },
          { kind: 'bias_threshold_curve', id: basis.curve.id, role: 'curve' },
          { kind: 'light_reference', id: basis.light.id, role: 'light' },
          ...(band ? [{ kind: 'absorption_band', id: band.id, role: 'band' }] : []),
          ...(given.biasSourceId ? [{ kind: 'instrument', id: given.biasSourceId, role: 'bias source' }] : []),
          ...(batch ? [{ kind: 'certificate_batch', id: batch, role: 'asked for in' }] : []),
        ],
        action: 'compute',
        reason: given.overrideReason,
      };
    });
  }

  /** What a certificate would say; nothing is written. */
  async trial(tx: Tx, input: CertificateTrialInput): Promise<{ document: Omit<CertificateDocument, 'overrides'> | null; objections: Flag[] }> {
    const { outcome, objections } = await judge(tx, await basisOf(tx, input));
    return { document: outcome.possible ? outcome.document : null, objections };
  }

  /** The target that keeps a risk at its limit; nothing is written. */
  async guardBandTarget(tx: Tx, input: GuardBandTargetInput): Promise<{ targetRwc: number; biasV: number; tripRwcSd: number }> {
    const basis = await basisOf(tx, { ...input, targetRwc: input.rwc });
    const { targetRwc, certificate } = targetForRisk(requestOf(basis), { kind: input.kind === 'FALSE_TRIP' ? 'false-trip' : 'missed-trip', rwc: input.rwc, risk: input.risk });
    return { targetRwc, biasV: certificate.biasRoundedV, tripRwcSd: certificate.sigma };
  }
}

/** Where neither step nor source is named. */
const USUAL_STEP_V = 0.01;

export function requireTarget(targetRwc: number): void {
  if (!(targetRwc > 0 && targetRwc < 1)) throw new InputError('OUT_OF_RANGE', 'targetRwc', `is ${targetRwc}`, 'Give a fraction between 0 and 1: 0.8 for 80 %.');
}

export async function biasSourceOf(tx: Tx, { biasSourceId, biasStepV }: Pick<CertificateTrialInput, 'biasSourceId' | 'biasStepV'>): Promise<Pick<CertificateBasis, 'biasStepV' | 'biasSdV'>> {
  if (biasStepV != null) requirePositive('biasStepV', biasStepV);
  if (!biasSourceId) return { biasStepV: biasStepV ?? USUAL_STEP_V, biasSdV: null };
  const source = await rowById(tx, Instrument, biasSourceId);
  if (!source) throw notFound('biasSourceId', 'The bias source');
  if (source.kind !== 'BIAS_SOURCE' || source.unit !== 'V') throw new InputError('WRONG_INSTRUMENT', 'biasSourceId', `${source.label} is no bias source in volts`, 'Choose a bias source.');
  return { biasStepV: biasStepV ?? (source.resolution ? Number(source.resolution) : USUAL_STEP_V), biasSdV: source.repeatability ? Number(source.repeatability) : null };
}

/** The records a certificate rests on; the unit's newest curve. */
export async function basisOf(tx: Tx, input: CertificateTrialInput): Promise<StandingBasis> {
  requireTarget(input.targetRwc);
  for (const field of ['falseTripRwc', 'missedTripRwc'] as const) {
    const rwc = input[field];
    if (rwc != null && !(rwc > 0 && rwc <= 1)) throw new InputError('OUT_OF_RANGE', field, `is ${rwc}`, 'Give a fraction above 0 and at most 1: 0.9 for 90 %.');
  }
  const unit = await rowById(tx, DeviceUnit, input.deviceUnitId);
  if (!unit) throw notFound('deviceUnitId', 'The device unit');
  const [retirement] = await standingRetirements(tx, [unit.id]);
  if (retirement) throw new ProblemError('STATE', 'deviceUnitId', `Unit ${unit.label} is retired: ${retirement.reason}`, 'Choose a unit in service.');
  const calibration = await rowById(tx, CalibrationVersion, input.calibrationVersionId);
  if (!calibration) throw notFound('calibrationVersionId', 'The calibration version');
  const light = await rowById(tx, LightReference, input.lightReferenceId);
  if (!light) throw notFound('lightReferenceId', 'The light reference');
  const [curve] = await rowsBy(tx, BiasThresholdCurve, 'deviceUnitId', [unit.id], 'id DESC');
  if (!curve) throw new ProblemError('STATE', 'deviceUnitId', `Unit ${unit.label} has no bias-threshold curve.`, 'Record its trip tests and fit the curve first.');
  return {
    calibration, curve, light, targetRwc: input.targetRwc, ...(await biasSourceOf(tx, input)), falseTripRwc: input.falseTripRwc ?? null, missedTripRwc: input.missedTripRwc ?? null,
    biasSourceId: input.biasSourceId ?? null, unit,
  };
}

export interface StandingBasis extends CertificateBasis {
  readonly unit: DeviceUnit;
  readonly biasSourceId: string | null;
}

/** Computes, and gathers everything that stands against it. */
async function judge(tx: Tx, basis: StandingBasis, until: Date | null = null, worked: WorkedOut | null = null): Promise<{ outcome: CertificateOutcome; objections: Flag[]; band: AbsorptionBand | null }> {
  const [band] = await standingBands(tx, basis.unit);
  const standing = await standingObjections(tx, basis, band ?? null);
  const scope = await scopeFindings(tx, basis.calibration, { at: new Date(), ...(until && { until }), rwc: basis.targetRwc, bandCentreNm: band ? Number(band.centreNm) : null });
  const outcome = worked && sameBasis(worked.basis, basis) ? worked.outcome : computeCertificate(basis);
  return { outcome, objections: [...standing, ...scope, ...outcome.objections], band: band ?? null };
}

/** What stands against the parts themselves, before any number is computed. */
async function standingObjections(tx: Tx, { calibration, curve, light, biasSourceId, targetRwc }: StandingBasis, band: AbsorptionBand | null): Promise<Flag[]> {
  const objections: Flag[] = [];
  const object = (code: string, message: string): void => { objections.push({ code, severity: 'ASK', message }); };
  const state = (await approvalStates(tx, 'calibration_version', [calibration.id])).get(calibration.id);
  if (state === 'WITHDRAWN') throw new ProblemError('STATE', 'calibrationVersionId', 'The calibration version was withdrawn.', 'Choose another version: no reason carries a new certificate over a withdrawal.');
  if (state !== 'APPROVED') object('CALIBRATION_NOT_APPROVED', `The calibration version is ${state?.toLowerCase()}, not approved.`);
  const stale = await staleAmong(tx, [calibration.id, curve.id]);
  if (stale.has(calibration.id)) object('CALIBRATION_STALE', 'A fact that the calibration version rests on was amended.');
  if (stale.has(curve.id)) object('CURVE_STALE', 'A trip test or sweep that the curve rests on was amended.');
  if ((await amendedAmong(tx, [light.id])).size > 0) object('LIGHT_AMENDED', 'The light reference was amended or retracted.');
  if (biasSourceId) {
    const [standing] = await standingsAt(tx, [{ instrumentId: biasSourceId, at: new Date() }]);
    if (standing!.status !== 'IN_CHECK') object('BIAS_SOURCE_NOT_IN_CHECK', `The bias source is ${{ OVERDUE: 'overdue for its check', FAILED: 'out of tolerance by its last check', UNCHECKED: 'unchecked' }[standing!.status]}.`);
  }
  if (band) objections.push(...(await bandObjections(tx, band, calibration, light, targetRwc)));
  return objections;
}

const sentences = (flags: readonly Flag[], severity: Flag['severity']): string =>
  flags.filter((flag) => flag.severity === severity).map(({ message }) => message).join(' ');
