import { Injectable } from '@nestjs/common';
import { convertDecimal, InputError, parseDecimal, parseUnit, requirePositive } from '#libs/quantity';
import { v7 as uuidv7 } from 'uuid';
import type {
  AmendsInput, DryingRunStepInput, EntryMode, Flag, OpenDryingRunInput, RecordMeterReadingInput, RecordWeighingInput, WeighWouldBeInput,
} from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import type { Amendment } from '../amendment/amendment.entity.js';
import { AmendmentService } from '../amendment/amendment.service.js';
import { Rig } from '../instrument/instrument.entity.js';
import { requireInstrument } from '../instrument/instrument.service.js';
import { requireInCheck } from '../instrument/out-of-check.js';
import { handlingOf, HOUSE_PARAMETERS } from '../protocol/protocol-parameters.js';
import { parametersOf, requireApprovedProtocol } from '../protocol/protocol.repository.js';
import { balanceFromDecimals, balanceTerms } from '../water/handling.js';
import { WaterService } from '../water/water.service.js';
import { lossesOf } from '../sample/sample.repository.js';
import { DryingRun, DryingRunStep, MeterReading, Weighing } from './bench.entity.js';
import { cropExperience, missingDiscs, NO_EXPERIENCE, statesOfRuns, surroundings, weighedDry, type WeighingSurroundings } from './bench.repository.js';
import { liveRwc } from './live-rwc.js';
import { flagsOf, lastMassMg } from './weighing-flags.js';

export interface WouldBe {
  readonly massMg: string;
  readonly rwc: number | null;
  readonly uRwc: number | null;
  readonly provisional: boolean;
  readonly flags: Flag[];
}

const MASS_UNITS = ['mg', 'g', 'ug'] as const;
const POWER_UNITS = ['nW', 'uW', 'mW'] as const;

function readUnit<U extends string>(field: string, text: string, allowed: readonly U[]): U {
  const unit = parseUnit(text, field);
  if (!(allowed as readonly string[]).includes(unit)) {
    throw new InputError('WRONG_UNIT', field, `${text} is not among ${allowed.join(', ')}`, 'Choose one of these.');
  }
  return unit as unknown as U;
}

/** A mass as entered, and exactly in mg. */
export function readMass(text: string, unitText: string): { massText: string; massUnit: string; massMg: string } {
  const unit = readUnit('massUnit', unitText, MASS_UNITS);
  const mass = parseDecimal(text, { field: 'massText' });
  requirePositive('massText', mass.value);
  return { massText: mass.text, massUnit: unit, massMg: convertDecimal(mass.decimal, unit, 'mg') };
}

/** A power as entered, and exactly in nW. */
export function readPower(field: string, text: string, unitField: string, unitText: string): { text: string; unit: string; powerNw: string } {
  const unit = readUnit(unitField, unitText, POWER_UNITS);
  const power = parseDecimal(text, { field });
  return { text: power.text, unit, powerNw: convertDecimal(power.decimal, unit, 'nW') };
}

/** Drying runs, weighings and meter readings: what is captured at the bench. */
@Injectable()
export class BenchService {
  constructor(
    private readonly recorder: Recorder,
    private readonly amendments: AmendmentService,
    private readonly water: WaterService,
  ) {}

  openDryingRun(tx: Tx, actor: Actor, input: OpenDryingRunInput): Promise<Written<DryingRun>> {
    const { at, offsetMin } = parseMoment('openedAt', input.openedAt);
    const given = {
      id: input.id,
      label: requireText('label', input.label),
      rigId: input.rigId,
      balanceId: input.balanceId,
      discIds: input.discIds,
      rhythmMin: input.rhythmMin ?? 5,
      openedAt: at,
      openedOffsetMin: offsetMin,
      protocolId: input.protocolId ?? null,
    };
    return this.recorder.record(tx, actor, DryingRun, given, async () => {
      if (given.rhythmMin < 1) throw new InputError('NOT_POSITIVE', 'rhythmMin', `is ${given.rhythmMin}`, 'Give whole minutes, 5 is usual.');
      if (new Set(input.discIds).size !== input.discIds.length) throw new InputError('REPEATED', 'discIds', 'names a disc twice', 'Name each disc once.');
      if (input.discIds.length === 0) throw new InputError('MISSING', 'discIds', 'names no disc', 'Choose at least one disc.');
      if ((await missingDiscs(tx, input.discIds)).length > 0) throw notFound('discIds', 'One of the discs');
      await requireInstrument(tx, 'balanceId', input.balanceId, 'BALANCE');
      if (given.protocolId) await requireApprovedProtocol(tx, 'protocolId', given.protocolId);
      return {
        uses: [
          { kind: 'rig', id: input.rigId, role: 'on' },
          { kind: 'instrument', id: input.balanceId, role: 'with' },
          ...(given.protocolId ? [{ kind: 'protocol', id: given.protocolId, role: 'under' }] : []),
          ...input.discIds.map((id): Use => ({ kind: 'disc', id, role: 'of' })),
        ],
      };
    });
  }

  closeDryingRun(tx: Tx, actor: Actor, input: DryingRunStepInput): Promise<Written<DryingRunStep>> {
    const given = { id: input.id, dryingRunId: input.dryingRunId, step: 'CLOSED' as const, note: optionalText(input.note) };
    return this.recorder.record(tx, actor, DryingRunStep, given, () => ({ uses: [{ kind: 'drying_run', id: input.dryingRunId, role: 'of' }], action: 'close' }));
  }

  /** Releases a closed run: every disc that is not lost or destroyed gets its RWC series, or none does. */
  releaseDryingRun(tx: Tx, actor: Actor, input: DryingRunStepInput): Promise<Written<DryingRunStep>> {
    const given = { id: input.id, dryingRunId: input.dryingRunId, step: 'RELEASED' as const, note: optionalText(input.note) };
    return this.recorder.record(tx, actor, DryingRunStep, given, async () => {
      const run = await rowById(tx, DryingRun, input.dryingRunId);
      if (!run) throw notFound('dryingRunId', 'The drying run');
      const state = (await statesOfRuns(tx, [run.id])).get(run.id);
      if (state === 'OPEN') throw new ProblemError('STATE', 'dryingRunId', `Run ${run.label} is still open.`, 'Close it first; then nothing can be added.');
      if (state === 'RELEASED') throw new ProblemError('STATE', 'dryingRunId', `Run ${run.label} was released already.`, 'Reload to see it.');
      // A disc that is gone and was never weighed dry has no RWC, and holds the others up no longer.
      const losses = await lossesOf(tx, run.discIds);
      const dried = await weighedDry(tx, [...losses.keys()]);
      for (const discId of run.discIds.filter((id) => !losses.has(id) || dried.has(id))) await this.water.compute(tx, actor, { id: uuidv7(), discId, dryingRunId: run.id });
      return { uses: [{ kind: 'drying_run', id: run.id, role: 'of' }], action: 'release' };
    });
  }

  recordWeighing(tx: Tx, actor: Actor, input: RecordWeighingInput, replaces: string | null = null): Promise<Written<Weighing>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const given = {
      id: input.id,
      discId: input.discId,
      state: input.state,
      observedAt: at,
      observedOffsetMin: offsetMin,
      ...readMass(input.massText, input.massUnit),
      balanceId: input.balanceId ?? null,
      dryingRunId: input.dryingRunId ?? null,
      ovenCycleId: input.ovenCycleId ?? null,
      entryMode: input.entryMode,
      rawLine: requireText('rawLine', input.rawLine),
      flagAnswer: optionalText(input.flagAnswer),
      clockOffsetMs: input.clockOffsetMs ?? null,
      stable: input.stable ?? null,
      scannedText: optionalText(input.scannedText),
      overrideReason: optionalText(input.overrideReason),
    };
    return this.recorder.record(tx, actor, Weighing, given, async () => {
      const around = withoutReplaced(await surroundings(tx, given), replaces);
      requirePlace(around, input, replaces !== null);
      if (input.balanceId && mustBeInCheck(input, replaces)) {
        await requireInCheck(tx, { instrumentId: input.balanceId, at: byServer(given), rule: around.parameters?.outOfCheck ?? null, overrideReason: given.overrideReason, field: 'balanceId' });
      }
      const judgedByCrop = (input.state === 'DRY' || input.state === 'TURGID') && around.cropId !== null;
      const crop = judgedByCrop ? await cropExperience(tx, around.cropId!, [input.discId]) : NO_EXPERIENCE;
      const flags = flagsOf({ ...given, massMg: Number(given.massMg), atMs: byServer(given).getTime() }, around, crop);
      if (flags.some(({ severity }) => severity === 'ASK') && !given.flagAnswer) {
        throw new ProblemError('INPUT', 'flagAnswer', flags.map(({ message }) => message).join(' '), 'Look at the disc before it is gone; then say what you found, or correct the mass.', { flags });
      }
      return { derived: { flags, dryingImportId: null }, uses: usesOf(input, replaces) };
    });
  }

  async amendWeighing(tx: Tx, actor: Actor, input: RecordWeighingInput, amends: AmendsInput): Promise<{ weighing: Written<Weighing>; amendment: Written<Amendment> }> {
    const weighing = await this.recordWeighing(tx, actor, input, amends.targetId);
    const amendment = await this.amendments.amend(tx, actor, { ...amends, targetKind: 'weighing', replacementId: weighing.row.id });
    return { weighing, amendment };
  }

  recordMeterReading(tx: Tx, actor: Actor, input: RecordMeterReadingInput, replaces: string | null = null): Promise<Written<MeterReading>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const power = readPower('powerText', input.powerText, 'powerUnit', input.powerUnit);
    const given = {
      id: input.id,
      lightPath: input.lightPath,
      observedAt: at,
      observedOffsetMin: offsetMin,
      powerText: power.text,
      powerUnit: power.unit,
      powerNw: power.powerNw,
      discId: input.discId ?? null,
      dryingRunId: input.dryingRunId,
      entryMode: input.entryMode,
      rawLine: requireText('rawLine', input.rawLine),
      clockOffsetMs: input.clockOffsetMs ?? null,
      overrideReason: optionalText(input.overrideReason),
    };
    return this.recorder.record(tx, actor, MeterReading, given, async () => {
      const run = await rowById(tx, DryingRun, input.dryingRunId);
      if (!run) throw notFound('dryingRunId', 'The drying run');
      if (!replaces && (await statesOfRuns(tx, [run.id])).get(run.id) !== 'OPEN') throw closed(run.label);
      if ((input.lightPath === 'READING') !== Boolean(input.discId)) {
        throw new InputError('MISSING', 'discId', input.discId ? 'is given for a dark or reference' : 'is missing for a reading', 'Only a reading through a disc names one.');
      }
      if (input.discId && !run.discIds.includes(input.discId)) throw notInRun(run.label);
      if (run.protocolId && mustBeInCheck(input, replaces)) {
        const [{ meterId }, { outOfCheck }] = [(await rowById(tx, Rig, run.rigId))!, await parametersOf(tx, run.protocolId)];
        await requireInCheck(tx, { instrumentId: meterId, at: byServer(given), rule: outOfCheck, overrideReason: given.overrideReason, field: 'dryingRunId' });
      }
      return {
        uses: [
          { kind: 'drying_run', id: run.id, role: 'in' },
          { kind: 'rig', id: run.rigId, role: 'with' },
          ...(input.discId ? [{ kind: 'disc', id: input.discId, role: 'of' }] : []),
          ...(replaces ? [{ kind: 'meter_reading', id: replaces, role: 'amends' }] : []),
        ],
      };
    });
  }

  async amendMeterReading(tx: Tx, actor: Actor, input: RecordMeterReadingInput, amends: AmendsInput): Promise<{ reading: Written<MeterReading>; amendment: Written<Amendment> }> {
    const reading = await this.recordMeterReading(tx, actor, input, amends.targetId);
    const amendment = await this.amendments.amend(tx, actor, { ...amends, targetKind: 'meter_reading', replacementId: reading.row.id });
    return { reading, amendment };
  }

  /** What a mass would mean, before it is recorded. Without a dry mass, RWC is provisional by the crop's usual ratio. */
  async wouldBe(tx: Tx, input: WeighWouldBeInput): Promise<WouldBe> {
    const { at } = parseMoment('observedAt', input.observedAt);
    const mass = readMass(input.massText, input.massUnit);
    const massMg = Number(mass.massMg);
    const around = await surroundings(tx, { id: null, discId: input.discId, dryingRunId: input.dryingRunId ?? null, balanceId: input.balanceId ?? null });
    if (around.discLabel === null) throw notFound('discId', 'The disc');
    const crop = around.cropId ? await cropExperience(tx, around.cropId, [input.discId]) : NO_EXPERIENCE;
    const flags = flagsOf({ state: input.state, discId: input.discId, massMg, atMs: at.getTime(), rawLine: input.rawLine ?? null, stable: input.stable ?? null }, around, crop);
    const live = liveRwc({
      state: input.state,
      massMg,
      turgidMassMg: lastMassMg(around, 'TURGID'),
      dryMassMg: lastMassMg(around, 'DRY'),
      cropTurgidDryRatios: crop.turgidDryRatios,
      balance: around.balance ? balanceTerms(around.balance) : balanceFromDecimals([mass.massText], mass.massUnit as 'mg'),
      handling: handlingOf(around.parameters ?? HOUSE_PARAMETERS),
    });
    return { massMg: mass.massMg, rwc: live?.rwc ?? null, uRwc: live?.u ?? null, provisional: live?.provisional ?? false, flags };
  }
}

/** The moment by the server's clock. */
const byServer = ({ observedAt, clockOffsetMs }: { readonly observedAt: Date; readonly clockOffsetMs: number | null }): Date => new Date(observedAt.getTime() + (clockOffsetMs ?? 0));

/** What was measured elsewhere or long ago cannot be stopped any more, and an amendment is no new use; their status then is told all the same. */
const mustBeInCheck = ({ entryMode }: { readonly entryMode: EntryMode }, replaces: string | null): boolean => replaces === null && (entryMode === 'TYPED' || entryMode === 'LINE');

const withoutReplaced = (around: WeighingSurroundings, replaces: string | null): WeighingSurroundings =>
  replaces ? { ...around, earlier: around.earlier.filter(({ id }) => id !== replaces) } : around;

const closed = (label: string): ProblemError =>
  new ProblemError('STATE', 'dryingRunId', `Run ${label} is closed.`, 'Nothing can be added; an earlier record can be amended.');

const notInRun = (label: string): ProblemError =>
  new ProblemError('INPUT', 'discId', `This disc is not in run ${label}.`, 'Check the label on the disc: another one was expected here.');

function requirePlace(around: WeighingSurroundings, input: RecordWeighingInput, amending: boolean): void {
  if (around.discLabel === null) throw notFound('discId', 'The disc');
  if (input.dryingRunId && !around.run) throw notFound('dryingRunId', 'The drying run');
  if (input.balanceId && around.balance?.kind !== 'BALANCE') throw notFound('balanceId', 'The balance');
  if (!input.balanceId && input.entryMode !== 'IMPORTED') {
    throw new InputError('MISSING', 'balanceId', 'is missing', 'Name the balance: every mass must lead back to one.');
  }
  if (!around.run) return;
  if (!around.run.hasDisc) throw notInRun(around.run.label);
  // Dry masses come days after the run was closed; they belong to the oven cycle, not to the capture.
  if (around.run.state !== 'OPEN' && !amending) throw closed(around.run.label);
}

function usesOf(input: RecordWeighingInput, replaces: string | null): Use[] {
  return [
    { kind: 'disc', id: input.discId, role: 'of' },
    ...(input.balanceId ? [{ kind: 'instrument', id: input.balanceId, role: 'with' }] : []),
    ...(input.dryingRunId ? [{ kind: 'drying_run', id: input.dryingRunId, role: 'in' }] : []),
    ...(input.ovenCycleId ? [{ kind: 'oven_cycle', id: input.ovenCycleId, role: 'in' }] : []),
    ...(replaces ? [{ kind: 'weighing', id: replaces, role: 'amends' }] : []),
  ];
}
