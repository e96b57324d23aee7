import { Injectable } from '@nestjs/common';
import { bandShape } from '#libs/optics';
import { acceptanceSampleSize, shownReliability, thermalDrift } from '#libs/switch-device';
import { InputError, parseDecimal, requirePositive } from '#libs/quantity';
import type {
  RecordAbsorptionBandInput, RecordChoppedRunInput, RecordCycleCountInput, RecordLotAcceptanceInput, RecordResetPulseInput, RecordTemperatureRunInput, RetireDeviceUnitInput,
} from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Completion, type Written } from '../../platform/ledger/recorder.js';
import { amendedAmong } from '../amendment/amendment.repository.js';
import { DeviceLot, DeviceUnit } from '../device/device.entity.js';
import { fileUse } from '../device/device.service.js';
import { Spectrum } from '../spectrum/spectrum.entity.js';
import { AbsorptionBand, ChoppedRun, CycleCount, LotAcceptance, ResetPulse, TemperatureRun, UnitRetirement } from './passport.entity.js';
import { standingRetirements } from './passport.repository.js';

/** Openings of one run, steps of one temperature run; more is a mistake in the file. */
const MOST_REPEATS = 10_000;

interface OfUnit { readonly id: string; readonly deviceUnitId: string; readonly observedAt: string }

const ofUnit = ({ id, deviceUnitId, observedAt }: OfUnit): { id: string; deviceUnitId: string; observedAt: Date; observedOffsetMin: number } => {
  const { at, offsetMin } = parseMoment('observedAt', observedAt);
  return { id, deviceUnitId, observedAt: at, observedOffsetMin: offsetMin };
};

const positive = (field: string, text: string): string => {
  const { value, decimal } = parseDecimal(text, { field });
  requirePositive(field, value);
  return decimal;
};

const optionalPositive = (field: string, text: string | null | undefined): string | null => (text ? positive(field, text) : null);

const notNegative = (field: string, text: string): string => {
  const { value, decimal } = parseDecimal(text, { field });
  if (value < 0) throw new InputError('NEGATIVE', field, `is ${text}`, 'Give its magnitude, zero or more.');
  return decimal;
};

type BandStated = Pick<AbsorptionBand, 'centreNm' | 'widthNm' | 'peakAbsorptance'>;

function statedBand({ centreNm, widthNm, peakAbsorptance }: RecordAbsorptionBandInput): BandStated {
  for (const [field, text] of [['centreNm', centreNm], ['widthNm', widthNm]] as const) {
    if (!text) throw new InputError('MISSING', field, 'is missing', 'Give centre and full width at half maximum, or the spectrum they follow from.');
  }
  const peak = peakAbsorptance ? parseDecimal(peakAbsorptance, { field: 'peakAbsorptance' }) : null;
  if (peak && !(peak.value > 0 && peak.value <= 1)) {
    throw new InputError('OUT_OF_RANGE', 'peakAbsorptance', `is ${peak.text}`, 'Give a fraction above 0 and at most 1: 0.8 for 80 %.');
  }
  const band = { centreNm: positive('centreNm', centreNm!), widthNm: positive('widthNm', widthNm!), peakAbsorptance: peak?.decimal ?? null };
  if (Number(band.widthNm) >= Number(band.centreNm)) throw new InputError('OUT_OF_RANGE', 'widthNm', `is ${band.widthNm} nm`, 'Give the full width at half of the peak, in nm.');
  return band;
}

/** In the spelling of a decimal, so finely as spectrometers tell wavelengths. */
const nm = (value: number): string => String(Number(value.toFixed(2)));

/** Centre and width of a recorded spectrum of what an absorber takes up. */
async function bandOfSpectrum(tx: Tx, { spectrumId, centreNm, widthNm, peakAbsorptance }: RecordAbsorptionBandInput): Promise<BandStated> {
  for (const [field, stated] of [['centreNm', centreNm], ['widthNm', widthNm], ['peakAbsorptance', peakAbsorptance]] as const) {
    if (stated) throw new InputError('NOT_WANTED', field, 'is given beside a spectrum', 'Leave it out: it is computed from the spectrum.');
  }
  const spectrum = await rowById(tx, Spectrum, spectrumId!);
  if (!spectrum) throw notFound('spectrumId', 'The spectrum');
  if (spectrum.spectrumOf !== 'ABSORBER') throw new InputError('OF_ANOTHER_SORT', 'spectrumId', `is the spectrum of a ${spectrum.spectrumOf.toLowerCase()}`, 'Choose one of an absorber.');
  if ((await amendedAmong(tx, [spectrum.id])).size > 0) throw new ProblemError('STATE', 'spectrumId', 'The spectrum was amended or retracted.', 'Choose one that stands.');
  const shape = bandShape(spectrum.points);
  return { centreNm: nm(shape.centreNm), widthNm: nm(shape.widthNm), peakAbsorptance: shape.peak <= 1 ? String(Number(shape.peak.toFixed(4))) : null };
}

/** What a unit was found to be, what it went through, and why it left service; and what was claimed of its lot. */
@Injectable()
export class PassportService {
  constructor(private readonly recorder: Recorder) {}

  recordAbsorptionBand(tx: Tx, actor: Actor, input: RecordAbsorptionBandInput): Promise<Written<AbsorptionBand>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const given = {
      id: input.id, observedAt: at, observedOffsetMin: offsetMin, deviceUnitId: input.deviceUnitId ?? null, deviceLotId: input.deviceLotId ?? null, spectrumId: input.spectrumId ?? null,
      ...(input.spectrumId ? {} : statedBand(input)), method: requireText('method', input.method), storedFileId: input.storedFileId ?? null,
    };
    return this.recorder.record(tx, actor, AbsorptionBand, given, async () => {
      if (Boolean(input.deviceUnitId) === Boolean(input.deviceLotId)) throw new InputError('ONE_OF', 'deviceUnitId', 'and deviceLotId are both given, or neither', 'Say whose band it is: of one unit, or of a lot.');
      return {
        derived: input.spectrumId ? await bandOfSpectrum(tx, input) : {},
        uses: [
          input.deviceUnitId ? { kind: 'device_unit', id: input.deviceUnitId, role: 'of' } : { kind: 'device_lot', id: input.deviceLotId!, role: 'of' },
          ...(input.spectrumId ? [{ kind: 'spectrum', id: input.spectrumId, role: 'computed from' }] : []), ...fileUse(input.storedFileId),
        ],
      };
    });
  }

  recordChoppedRun(tx: Tx, actor: Actor, input: RecordChoppedRunInput): Promise<Written<ChoppedRun>> {
    const given = {
      ...ofUnit(input), biasV: notNegative('biasV', input.biasV), chopHz: positive('chopHz', input.chopHz), tripPowersNw: input.tripPowersNw.map((power) => power ?? null), note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, ChoppedRun, given, () => {
      requireCount('tripPowersNw', given.tripPowersNw.length, 2, 'openings of the light');
      const bad = given.tripPowersNw.findIndex((power) => power !== null && !(Number.isFinite(power) && power > 0));
      if (bad >= 0) throw new InputError('NOT_POSITIVE', `tripPowersNw[${bad}]`, `is ${given.tripPowersNw[bad]} nW`, 'Give the power above zero, or nothing where it did not trip.');
      return usesUnit(input.deviceUnitId);
    });
  }

  recordResetPulse(tx: Tx, actor: Actor, input: RecordResetPulseInput): Promise<Written<ResetPulse>> {
    const given = { ...ofUnit(input), pulseV: positive('pulseV', input.pulseV), pulseMs: positive('pulseMs', input.pulseMs), succeeded: input.succeeded, note: optionalText(input.note) };
    return this.recorder.record(tx, actor, ResetPulse, given, () => usesUnit(input.deviceUnitId));
  }

  recordTemperatureRun(tx: Tx, actor: Actor, input: RecordTemperatureRunInput): Promise<Written<TemperatureRun>> {
    const given = { ...ofUnit(input), biasV: notNegative('biasV', input.biasV), steps: input.steps as [number, number][], note: optionalText(input.note) };
    return this.recorder.record(tx, actor, TemperatureRun, given, () => {
      requireCount('steps', input.steps.length, 3, 'steps');
      const bad = input.steps.findIndex((step) => step.length !== 2);
      if (bad >= 0) throw new InputError('NOT_A_PAIR', `steps[${bad}]`, 'is not a temperature and a power', 'Give each step as [temperature °C, trip power nW].');
      // Refuses what makes no line: one temperature, or powers that are none.
      thermalDrift(given.steps.map(([temperatureC, tripPowerNw]) => ({ temperatureC, tripPowerNw })));
      return usesUnit(input.deviceUnitId);
    });
  }

  recordCycleCount(tx: Tx, actor: Actor, input: RecordCycleCountInput): Promise<Written<CycleCount>> {
    const given = {
      ...ofUnit(input), cycles: input.cycles, switching: input.switching, pullInV: optionalPositive('pullInV', input.pullInV),
      contactResistanceOhm: optionalPositive('contactResistanceOhm', input.contactResistanceOhm), note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, CycleCount, given, () => {
      if (input.cycles < 0) throw new InputError('NEGATIVE', 'cycles', `is ${input.cycles}`, 'Give the number of cycles so far, zero or more.');
      return usesUnit(input.deviceUnitId);
    });
  }

  /** @throws ProblemError `STATE` where the unit is out of service already */
  retire(tx: Tx, actor: Actor, input: RetireDeviceUnitInput): Promise<Written<UnitRetirement>> {
    const given = { ...ofUnit(input), cause: input.cause, reason: requireText('reason', input.reason) };
    return this.recorder.record(tx, actor, UnitRetirement, given, async () => {
      const unit = await rowById(tx, DeviceUnit, input.deviceUnitId);
      if (!unit) throw notFound('deviceUnitId', 'The device unit');
      const [standing] = await standingRetirements(tx, [unit.id]);
      if (standing && standing.id !== input.id) {
        throw new ProblemError('STATE', 'deviceUnitId', `Unit ${unit.label} is retired already: ${standing.reason}`, 'Retract that retirement first, if it was a mistake.');
      }
      return { ...usesUnit(unit.id), action: 'retire', reason: given.reason };
    });
  }

  recordLotAcceptance(tx: Tx, actor: Actor, input: RecordLotAcceptanceInput): Promise<Written<LotAcceptance>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const allowedFailures = input.allowedFailures ?? 0;
    const [reliability, confidence] = [fraction('reliability', input.reliability), fraction('confidence', input.confidence)];
    const given = {
      id: input.id, deviceLotId: input.deviceLotId, observedAt: at, observedOffsetMin: offsetMin, criterion: requireText('criterion', input.criterion),
      reliability: reliability.decimal, confidence: confidence.decimal, allowedFailures, testedUnits: input.testedUnits, failedUnits: input.failedUnits, note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, LotAcceptance, given, async () => {
      if (!(await rowById(tx, DeviceLot, input.deviceLotId))) throw notFound('deviceLotId', 'The device lot');
      const neededUnits = acceptanceSampleSize({ reliability: reliability.value, confidence: confidence.value, allowedFailures });
      const shown = shownReliability({ tested: input.testedUnits, failed: input.failedUnits, confidence: confidence.value });
      return {
        derived: { neededUnits, shownReliability: shown, accepted: input.testedUnits >= neededUnits && input.failedUnits <= allowedFailures },
        uses: [{ kind: 'device_lot', id: input.deviceLotId, role: 'of' }],
      };
    });
  }
}

const fraction = (field: string, text: string): { value: number; decimal: string } => {
  const { value, decimal } = parseDecimal(text, { field });
  if (!(value > 0 && value < 1)) throw new InputError('OUT_OF_RANGE', field, `is ${text}`, 'Give a fraction between 0 and 1: 0.95 for 95 %.');
  return { value, decimal };
};

function usesUnit<E>(deviceUnitId: string): Pick<Completion<E & never>, 'uses'> {
  return { uses: [{ kind: 'device_unit', id: deviceUnitId, role: 'of' }] };
}

function requireCount(field: string, count: number, least: number, what: string): void {
  if (count < least || count > MOST_REPEATS) throw new InputError('COUNT', field, `has ${count} ${what}`, `Give ${least} to ${MOST_REPEATS}.`);
}
