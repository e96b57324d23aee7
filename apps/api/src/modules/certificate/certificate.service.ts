import { Injectable } from '@nestjs/common';
import { InputError, parseDecimal, requirePositive } from '#libs/quantity';
import type { Flag, IssueCertificateInput, RecordLightReferenceInput } from '../../generated/schema.js';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsBy } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { amendedAmong, holdFactsStill, staleAmong } from '../amendment/amendment.repository.js';
import { readPower } from '../bench/bench.service.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { scopeFindings } from '../calibration-scope/scope-findings.js';
import { BiasThresholdCurve, DeviceUnit } from '../device/device.entity.js';
import { approvalStates } from '../signature/signature.repository.js';
import { LightReference, ThresholdCertificate } from './certificate.entity.js';
import { computeCertificate, type CertificateBasis } from './compute.js';

/** Light references, and certificates that turn a target RWC into one unit's bias. */
@Injectable()
export class CertificateService {
  constructor(private readonly recorder: Recorder) {}

  recordLightReference(tx: Tx, actor: Actor, input: RecordLightReferenceInput): Promise<Written<LightReference>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const power = readPower('powerText', input.powerText, 'powerUnit', input.powerUnit);
    requirePositive('powerText', Number(power.powerNw));
    const relativeSd = parseDecimal(input.relativeSd, { field: 'relativeSd' });
    const given = {
      id: input.id,
      label: requireText('label', input.label),
      site: requireText('site', input.site),
      observedAt: at,
      observedOffsetMin: offsetMin,
      powerText: power.text,
      powerUnit: power.unit,
      powerNw: power.powerNw,
      relativeSd: relativeSd.decimal,
      basis: input.basis,
      note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, LightReference, given, () => {
      if (relativeSd.value < 0 || relativeSd.value > 1) {
        throw new InputError('OUT_OF_RANGE', 'relativeSd', `is ${relativeSd.text}`, 'Give the spread as a fraction: 0.1 for ten per cent.');
      }
      if (input.basis === 'ASSUMED' && !given.note) {
        throw new InputError('MISSING', 'note', 'is missing for an assumed power', 'Say what the assumption rests on.');
      }
      return { uses: [] };
    });
  }

  /**
   * Computes and freezes a draft certificate.
   *
   * @throws ProblemError `OUT_OF_SCOPE` with all objections beside it, unless an override reason answers the ones that
   *   may be overridden; `COMPUTATION` where no bias exists
   */
  issue(tx: Tx, actor: Actor, input: IssueCertificateInput): Promise<Written<ThresholdCertificate>> {
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
    };
    return this.recorder.record(tx, actor, ThresholdCertificate, given, async () => {
      await holdFactsStill(tx);
      if (!(input.targetRwc > 0 && input.targetRwc < 1)) {
        throw new InputError('OUT_OF_RANGE', 'targetRwc', `is ${input.targetRwc}`, 'Give a fraction between 0 and 1: 0.8 for 80 %.');
      }
      const basis = await this.basisOf(tx, input);
      const outcome = computeCertificate(basis);
      const scope = await scopeFindings(tx, basis.calibration, { at: new Date(), until: validUntil, rwc: input.targetRwc });
      const objections = [...(await standingObjections(tx, basis)), ...scope, ...outcome.objections];
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
        ],
        action: 'compute',
        reason: given.overrideReason,
      };
    });
  }

  private async basisOf(tx: Tx, input: IssueCertificateInput): Promise<CertificateBasis> {
    const unit = await rowById(tx, DeviceUnit, input.deviceUnitId);
    if (!unit) throw notFound('deviceUnitId', 'The device unit');
    const calibration = await rowById(tx, CalibrationVersion, input.calibrationVersionId);
    if (!calibration) throw notFound('calibrationVersionId', 'The calibration version');
    const light = await rowById(tx, LightReference, input.lightReferenceId);
    if (!light) throw notFound('lightReferenceId', 'The light reference');
    const [curve] = await rowsBy(tx, BiasThresholdCurve, 'deviceUnitId', [unit.id], 'id DESC');
    if (!curve) throw new ProblemError('STATE', 'deviceUnitId', `Unit ${unit.label} has no bias-threshold curve.`, 'Record its trip tests and fit the curve first.');
    return { calibration, curve, light, targetRwc: input.targetRwc, biasStepV: input.biasStepV ?? 0.01 };
  }
}

/** What stands against the parts themselves, before any number is computed. */
async function standingObjections(tx: Tx, { calibration, curve, light }: CertificateBasis): Promise<Flag[]> {
  const objections: Flag[] = [];
  const object = (code: string, message: string): void => { objections.push({ code, severity: 'ASK', message }); };
  const state = (await approvalStates(tx, 'calibration_version', [calibration.id])).get(calibration.id);
  if (state === 'WITHDRAWN') throw new ProblemError('STATE', 'calibrationVersionId', 'The calibration version was withdrawn.', 'Choose another version: no reason carries a new certificate over a withdrawal.');
  if (state !== 'APPROVED') object('CALIBRATION_NOT_APPROVED', `The calibration version is ${state?.toLowerCase()}, not approved.`);
  const stale = await staleAmong(tx, [calibration.id, curve.id]);
  if (stale.has(calibration.id)) object('CALIBRATION_STALE', 'A fact that the calibration version rests on was amended.');
  if (stale.has(curve.id)) object('CURVE_STALE', 'A trip test or sweep that the curve rests on was amended.');
  if ((await amendedAmong(tx, [light.id])).size > 0) object('LIGHT_AMENDED', 'The light reference was amended or retracted.');
  return objections;
}

const sentences = (flags: readonly Flag[], severity: Flag['severity']): string =>
  flags.filter((flag) => flag.severity === severity).map(({ message }) => message).join(' ');
