import { Injectable } from '@nestjs/common';
import { InputError, parseDecimal, parseUnit, requirePositive } from '#libs/quantity';
import type { InstrumentKind, RecordInstrumentCalibrationInput, RecordInstrumentCheckInput, RegisterInstrumentInput, RegisterRigInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { Instrument, InstrumentCalibration, InstrumentCheck, Rig } from './instrument.entity.js';

const positive = (field: string, text: string): string => {
  const parsed = parseDecimal(text, { field });
  requirePositive(field, parsed.value);
  return parsed.decimal;
};

const optionalPositive = (field: string, text: string | null | undefined): string | null => (text ? positive(field, text) : null);

const optionalNotNegative = (field: string, text: string | null | undefined): string | null => {
  if (!text) return null;
  const parsed = parseDecimal(text, { field });
  if (parsed.value < 0) throw new InputError('NEGATIVE', field, `is ${text}`, 'Give a half-width, zero or more.');
  return parsed.decimal;
};

/** Finds an instrument and makes sure it is of the kind a step needs. */
export async function requireInstrument(tx: Tx, field: string, id: string, kind: InstrumentKind): Promise<Instrument> {
  const instrument = await rowById(tx, Instrument, id);
  const what = kind.toLowerCase().replaceAll('_', ' ');
  if (!instrument) throw notFound(field, `The ${what}`);
  if (instrument.kind !== kind) {
    throw new ProblemError('INPUT', field, `${instrument.label} is not a ${what}.`, `Choose a ${what}.`);
  }
  return instrument;
}

/** Balances, meters, ovens and bias sources, their checks, and the rigs built of them. */
@Injectable()
export class InstrumentService {
  constructor(private readonly recorder: Recorder) {}

  register(tx: Tx, actor: Actor, input: RegisterInstrumentInput): Promise<Written<Instrument>> {
    if (!Number.isInteger(input.checkEveryHours) || input.checkEveryHours < 1) {
      throw new InputError('NOT_POSITIVE', 'checkEveryHours', `is ${input.checkEveryHours}`, 'Give the hours a passed check is good for, for example 24.');
    }
    if (input.kind === 'BALANCE' && !input.resolution) {
      throw new InputError('MISSING', 'resolution', 'is missing for a balance', 'Enter the smallest step it shows: uncertainty and constant mass rest on it.');
    }
    const given = {
      id: input.id,
      kind: input.kind,
      label: requireText('label', input.label),
      serialNumber: optionalText(input.serialNumber),
      location: optionalText(input.location),
      resolution: optionalPositive('resolution', input.resolution),
      repeatability: optionalPositive('repeatability', input.repeatability),
      unit: parseUnit(input.unit, 'unit'),
      checkEveryHours: input.checkEveryHours,
      linearity: optionalNotNegative('linearity', input.linearity),
      driftPerYear: optionalNotNegative('driftPerYear', input.driftPerYear),
    };
    return this.recorder.record(tx, actor, Instrument, given, () => ({ uses: [] }));
  }

  recordCheck(tx: Tx, actor: Actor, input: RecordInstrumentCheckInput): Promise<Written<InstrumentCheck>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const tolerance = parseDecimal(input.tolerance, { field: 'tolerance' });
    if (tolerance.value < 0) throw new InputError('NEGATIVE', 'tolerance', `is ${input.tolerance}`, 'Give zero or more.');
    const given = {
      id: input.id,
      instrumentId: input.instrumentId,
      observedAt: at,
      observedOffsetMin: offsetMin,
      nominal: parseDecimal(input.nominal, { field: 'nominal' }).decimal,
      shown: parseDecimal(input.shown, { field: 'shown' }).decimal,
      tolerance: tolerance.decimal,
      note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, InstrumentCheck, given, () => ({
      uses: [{ kind: 'instrument', id: input.instrumentId, role: 'of' }],
    }));
  }

  recordCalibration(tx: Tx, actor: Actor, input: RecordInstrumentCalibrationInput): Promise<Written<InstrumentCalibration>> {
    const calibrated = parseMoment('calibratedAt', input.calibratedAt);
    const due = parseMoment('dueAt', input.dueAt);
    if (due.at <= calibrated.at) throw new InputError('OUT_OF_RANGE', 'dueAt', 'is not after the calibration', 'Give the day on which the next calibration is due.');
    const given = {
      id: input.id,
      instrumentId: input.instrumentId,
      calibratedAt: calibrated.at,
      calibratedOffsetMin: calibrated.offsetMin,
      dueAt: due.at,
      dueOffsetMin: due.offsetMin,
      calibratedBy: requireText('calibratedBy', input.calibratedBy),
      certificateNumber: optionalText(input.certificateNumber),
      certificateFileId: input.certificateFileId ?? null,
      largestError: optionalNotNegative('largestError', input.largestError),
      expandedUncertainty: optionalPositive('expandedUncertainty', input.expandedUncertainty),
      note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, InstrumentCalibration, given, () => ({
      uses: [
        { kind: 'instrument', id: input.instrumentId, role: 'of' },
        ...(given.certificateFileId ? [{ kind: 'stored_file', id: given.certificateFileId, role: 'certificate' }] : []),
      ],
    }));
  }

  registerRig(tx: Tx, actor: Actor, input: RegisterRigInput): Promise<Written<Rig>> {
    const given = {
      id: input.id,
      label: requireText('label', input.label),
      version: input.version,
      source: requireText('source', input.source),
      bandCentreNm: positive('bandCentreNm', input.bandCentreNm),
      bandWidthNm: positive('bandWidthNm', input.bandWidthNm),
      diffuser: optionalText(input.diffuser),
      diffuserTransmittance: optionalPositive('diffuserTransmittance', input.diffuserTransmittance),
      uDiffuserTransmittance: input.uDiffuserTransmittance ? parseDecimal(input.uDiffuserTransmittance, { field: 'uDiffuserTransmittance' }).decimal : null,
      apertureMm: optionalPositive('apertureMm', input.apertureMm),
      meterId: input.meterId,
    };
    return this.recorder.record(tx, actor, Rig, given, async () => {
      if ((given.diffuserTransmittance === null) !== (given.uDiffuserTransmittance === null)) {
        throw new InputError('MISSING', 'uDiffuserTransmittance', 'stands alone', 'Give the transmittance of the diffuser together with its standard uncertainty, or neither.');
      }
      if (Number(given.diffuserTransmittance ?? 1) > 1) {
        throw new InputError('OUT_OF_RANGE', 'diffuserTransmittance', `${given.diffuserTransmittance} is above 1`, 'Give a fraction, not per cent.');
      }
      if (input.version < 1) throw new InputError('NOT_POSITIVE', 'version', `is ${input.version}`, 'Count versions from 1.');
      await requireInstrument(tx, 'meterId', input.meterId, 'POWER_METER');
      return { uses: [{ kind: 'instrument', id: input.meterId, role: 'with' }] };
    });
  }
}
