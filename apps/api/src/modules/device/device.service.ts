import { Injectable } from '@nestjs/common';
import { InputError, parseDecimal, requirePositive } from '#libs/quantity';
import type {
  FitBiasThresholdCurveInput, RecordBiasSweepInput, RecordTripTestInput, RegisterDeviceLotInput, RegisterDeviceUnitInput,
} from '../../generated/schema.js';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { holdFactsStill } from '../amendment/amendment.repository.js';
import { readPower } from '../bench/bench.service.js';
import { computeCurve } from './compute.js';
import { BiasSweep, BiasThresholdCurve, DeviceLot, DeviceUnit, TripTest } from './device.entity.js';
import { standingSweeps, standingTripTests } from './device.repository.js';

/** Steps of one sweep; more is a mistake in the file. */
const MOST_STEPS = 20_000;

const optionalDecimal = (field: string, text: string | null | undefined): string | null => (text ? parseDecimal(text, { field }).decimal : null);

function optionalPositive(field: string, text: string | null | undefined): string | null {
  const decimal = optionalDecimal(field, text);
  if (decimal !== null) requirePositive(field, Number(decimal));
  return decimal;
}

/** The file that a fact was read from. */
export const fileUse = (id: string | null | undefined): Use[] => (id ? [{ kind: 'stored_file', id, role: 'read from' }] : []);

/** Device lots and units, their sweeps and trip tests, and the curve that follows from them. */
@Injectable()
export class DeviceService {
  constructor(private readonly recorder: Recorder) {}

  registerLot(tx: Tx, actor: Actor, input: RegisterDeviceLotInput): Promise<Written<DeviceLot>> {
    return this.recorder.record(tx, actor, DeviceLot, { id: input.id, label: requireText('label', input.label) }, () => ({ uses: [] }));
  }

  registerUnit(tx: Tx, actor: Actor, input: RegisterDeviceUnitInput): Promise<Written<DeviceUnit>> {
    const given = { id: input.id, deviceLotId: input.lotId, label: requireText('label', input.label) };
    return this.recorder.record(tx, actor, DeviceUnit, given, () => ({ uses: [{ kind: 'device_lot', id: input.lotId, role: 'of' }] }));
  }

  recordBiasSweep(tx: Tx, actor: Actor, input: RecordBiasSweepInput): Promise<Written<BiasSweep>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const given = {
      id: input.id,
      deviceUnitId: input.deviceUnitId,
      observedAt: at,
      observedOffsetMin: offsetMin,
      direction: input.direction,
      polarity: input.polarity,
      steps: input.steps as [number, number][],
      temperatureC: optionalDecimal('temperatureC', input.temperatureC),
      voltsPerS: optionalPositive('voltsPerS', input.voltsPerS),
      storedFileId: input.storedFileId ?? null,
    };
    return this.recorder.record(tx, actor, BiasSweep, given, () => {
      if (input.steps.length < 2 || input.steps.length > MOST_STEPS) {
        throw new InputError('STEP_COUNT', 'steps', `has ${input.steps.length} steps`, `Give 2 to ${MOST_STEPS} pairs of bias and current.`);
      }
      const bad = input.steps.findIndex((step) => step.length !== 2 || !step.every(Number.isFinite));
      if (bad >= 0) throw new InputError('NOT_A_PAIR', `steps[${bad}]`, 'is not a bias and a current', 'Give each step as [bias V, current A].');
      return { uses: [{ kind: 'device_unit', id: input.deviceUnitId, role: 'of' }, ...fileUse(input.storedFileId)] };
    });
  }

  recordTripTest(tx: Tx, actor: Actor, input: RecordTripTestInput): Promise<Written<TripTest>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const bias = parseDecimal(input.biasV, { field: 'biasV' });
    const power = readPower('tripPowerText', input.tripPowerText, 'tripPowerUnit', input.tripPowerUnit);
    requirePositive('tripPowerText', Number(power.powerNw));
    const given = {
      id: input.id,
      deviceUnitId: input.deviceUnitId,
      observedAt: at,
      observedOffsetMin: offsetMin,
      biasV: bias.decimal,
      tripPowerText: power.text,
      tripPowerUnit: power.unit,
      tripPowerNw: power.powerNw,
      rawLine: requireText('rawLine', input.rawLine),
      onCurrentA: optionalPositive('onCurrentA', input.onCurrentA),
      offCurrentA: optionalPositive('offCurrentA', input.offCurrentA),
      lightCourse: input.lightCourse ?? null,
      storedFileId: input.storedFileId ?? null,
      temperatureC: optionalDecimal('temperatureC', input.temperatureC),
    };
    return this.recorder.record(tx, actor, TripTest, given, () => {
      if (bias.value < 0) throw new InputError('NEGATIVE', 'biasV', `is ${bias.text} V`, 'Give the magnitude of the bias, zero or more.');
      return { uses: [{ kind: 'device_unit', id: input.deviceUnitId, role: 'of' }, ...fileUse(input.storedFileId)] };
    });
  }

  fitCurve(tx: Tx, actor: Actor, input: FitBiasThresholdCurveInput): Promise<Written<BiasThresholdCurve>> {
    return this.recorder.record(tx, actor, BiasThresholdCurve, { id: input.id, deviceUnitId: input.deviceUnitId }, async () => {
      await holdFactsStill(tx);
      const unit = await rowById(tx, DeviceUnit, input.deviceUnitId);
      if (!unit) throw notFound('deviceUnitId', 'The device unit');
      const tests = await standingTripTests(tx, unit.id);
      const sweeps = await standingSweeps(tx, unit.id);
      return {
        derived: { codeVersion, document: computeCurve(tests, sweeps, input.exponent ?? null) },
        uses: [
          { kind: 'device_unit', id: unit.id, role: 'of' },
          ...tests.map(({ id }): Use => ({ kind: 'trip_test', id, role: 'fitted' })),
          ...sweeps.map(({ id }): Use => ({ kind: 'bias_sweep', id, role: 'pull-in' })),
        ],
        action: 'compute',
      };
    });
  }
}
