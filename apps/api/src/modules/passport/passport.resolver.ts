import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { Type } from '@nestjs/common';
import { acceptanceSampleSize } from '#libs/switch-device';
import type {
  ComparedExponent, CycleDrift, Flag, LotStatistics, RecordAbsorptionBandInput, RecordChoppedRunInput, RecordCycleCountInput, RecordLotAcceptanceInput, RecordResetPulseInput,
  RecordTemperatureRunInput, RetireDeviceUnitInput, SpreadParts, SweepSummary,
} from '../../generated/schema.js';
import { rowById, rowsBy, type KeptEntity } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import type { RecordView } from '../../platform/graphql/record-view.js';
import { Amendment } from '../amendment/amendment.entity.js';
import type { AmendmentView } from '../amendment/amendment.mapper.js';
import { amendmentOf } from '../amendment/amendment.resolver.js';
import { BiasSweep, BiasThresholdCurve, DeviceLot, DeviceUnit, TripTest } from '../device/device.entity.js';
import { toDeviceLot, type CurveView, type DeviceLotView, type DeviceUnitView } from '../device/device.mapper.js';
import type { StoredFileView } from '../stored-file/stored-file.mapper.js';
import { storedFileOf } from '../stored-file/stored-file.resolver.js';
import { Spectrum } from '../spectrum/spectrum.entity.js';
import { toSpectrum, type SpectrumView } from '../spectrum/spectrum.resolver.js';
import { choppedRepeatabilityOf, cycleDriftOf, exponentsOf, lotStatisticsOf, remarksOn, sweepSummaryOf } from './compute.js';
import { AbsorptionBand, ChoppedRun, CycleCount, LotAcceptance, ResetPulse, TemperatureRun, type UnitFact } from './passport.entity.js';
import {
  toAbsorptionBand, toChoppedRun, toCycleCount, toLotAcceptance, toResetPulse, toRetirement, toTemperatureRun, type LotAcceptanceView, type RetirementView,
} from './passport.mapper.js';
import { standingRetirements } from './passport.repository.js';
import { PassportService } from './passport.service.js';

const IN_TIME = 'observed_at, id';

const factsOf = <E extends UnitFact>(context: RequestContext, entity: KeptEntity<E>, unitId: string): Promise<E[]> =>
  context.load.many<E>(entity, 'deviceUnitId' as keyof E & string, unitId, IN_TIME);

/** Those of a unit's facts that nobody amended or retracted: what is computed rests on these. */
async function standingOf<E extends UnitFact | BiasSweep | TripTest>(context: RequestContext, entity: KeptEntity<E>, unitId: string): Promise<E[]> {
  const facts = await context.load.many<E>(entity, 'deviceUnitId' as keyof E & string, unitId, IN_TIME);
  const amended = await Promise.all(facts.map(async ({ id }) => (await context.load.many(Amendment, 'targetId', id)).length > 0));
  return facts.filter((_, i) => !amended[i]);
}

/** Retirement in force of a unit; in bulk for all units of the request. */
export const retirementOf = (context: RequestContext, unitId: string): Promise<RetirementView | null> =>
  context.load.batch('retirement', unitId, async (tx, ids) => {
    const rows = new Map((await standingRetirements(tx, ids)).map((row) => [row.deviceUnitId, toRetirement(row)]));
    return ids.map((id) => rows.get(id) ?? null);
  });

@Resolver()
export class PassportResolver {
  constructor(private readonly passports: PassportService) {}

  @Query()
  acceptancePlan(@Args() plan: { reliability: number; confidence: number; allowedFailures: number }): { neededUnits: number } {
    return { neededUnits: acceptanceSampleSize(plan) };
  }

  @Query()
  async deviceLot(@Args('id') id: string, @Context() context: RequestContext): Promise<DeviceLotView | null> {
    const row = await rowById(await context.read(), DeviceLot, id);
    return row && toDeviceLot(row);
  }

  @Mutation()
  recordAbsorptionBand(@Args('input') input: RecordAbsorptionBandInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.passports.recordAbsorptionBand(tx, context.member, input));
      return { absorptionBand: toAbsorptionBand(row), replayed };
    });
  }

  @Mutation()
  recordChoppedRun(@Args('input') input: RecordChoppedRunInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.passports.recordChoppedRun(tx, context.member, input));
      return { choppedRun: toChoppedRun(row), replayed };
    });
  }

  @Mutation()
  recordResetPulse(@Args('input') input: RecordResetPulseInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.passports.recordResetPulse(tx, context.member, input));
      return { resetPulse: toResetPulse(row), replayed };
    });
  }

  @Mutation()
  recordTemperatureRun(@Args('input') input: RecordTemperatureRunInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.passports.recordTemperatureRun(tx, context.member, input));
      return { temperatureRun: toTemperatureRun(row), replayed };
    });
  }

  @Mutation()
  recordCycleCount(@Args('input') input: RecordCycleCountInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.passports.recordCycleCount(tx, context.member, input));
      return { cycleCount: toCycleCount(row), replayed };
    });
  }

  @Mutation()
  retireDeviceUnit(@Args('input') input: RetireDeviceUnitInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.passports.retire(tx, context.member, input));
      return { retirement: toRetirement(row), replayed };
    });
  }

  @Mutation()
  recordLotAcceptance(@Args('input') input: RecordLotAcceptanceInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.passports.recordLotAcceptance(tx, context.member, input));
      return { lotAcceptance: toLotAcceptance(row), replayed };
    });
  }
}

@Resolver('DeviceUnit')
export class PassportUnitResolver {
  @ResolveField()
  async absorptionBands(@Parent() { id }: DeviceUnitView, @Context() context: RequestContext): Promise<object[]> {
    return (await context.load.many(AbsorptionBand, 'deviceUnitId', id, IN_TIME)).map(toAbsorptionBand);
  }

  @ResolveField()
  async choppedRuns(@Parent() { id }: DeviceUnitView, @Context() context: RequestContext): Promise<object[]> {
    return (await factsOf(context, ChoppedRun, id)).map(toChoppedRun);
  }

  @ResolveField()
  async resetPulses(@Parent() { id }: DeviceUnitView, @Context() context: RequestContext): Promise<object[]> {
    return (await factsOf(context, ResetPulse, id)).map(toResetPulse);
  }

  @ResolveField()
  async temperatureRuns(@Parent() { id }: DeviceUnitView, @Context() context: RequestContext): Promise<object[]> {
    return (await factsOf(context, TemperatureRun, id)).map(toTemperatureRun);
  }

  @ResolveField()
  async cycleCounts(@Parent() { id }: DeviceUnitView, @Context() context: RequestContext): Promise<object[]> {
    return (await factsOf(context, CycleCount, id)).map(toCycleCount);
  }

  @ResolveField()
  retirement(@Parent() { id }: DeviceUnitView, @Context() context: RequestContext): Promise<RetirementView | null> {
    return retirementOf(context, id);
  }

  @ResolveField()
  async sweepSummary(@Parent() { id }: DeviceUnitView, @Context() context: RequestContext): Promise<SweepSummary | null> {
    return sweepSummaryOf(await standingOf(context, BiasSweep, id));
  }

  @ResolveField()
  async choppedRepeatability(@Parent() { id }: DeviceUnitView, @Context() context: RequestContext): Promise<SpreadParts | null> {
    return choppedRepeatabilityOf(await standingOf(context, ChoppedRun, id));
  }

  @ResolveField()
  async cycleDrift(@Parent() { id }: DeviceUnitView, @Context() context: RequestContext): Promise<CycleDrift | null> {
    return cycleDriftOf(await standingOf(context, CycleCount, id));
  }

  @ResolveField()
  async passportRemarks(@Parent() { id }: DeviceUnitView, @Context() context: RequestContext): Promise<Flag[]> {
    const [sweeps, tripTests, resetPulses, cycleCounts, choppedRuns, temperatureRuns] = await Promise.all([
      standingOf(context, BiasSweep, id), standingOf(context, TripTest, id), standingOf(context, ResetPulse, id),
      standingOf(context, CycleCount, id), standingOf(context, ChoppedRun, id), standingOf(context, TemperatureRun, id),
    ]);
    return remarksOn({ sweeps, tripTests, resetPulses, cycleCounts, choppedRuns, temperatureRuns });
  }
}

@Resolver('DeviceLot')
export class PassportLotResolver {
  @ResolveField()
  async absorptionBands(@Parent() { id }: DeviceLotView, @Context() context: RequestContext): Promise<object[]> {
    return (await context.load.many(AbsorptionBand, 'deviceLotId', id, IN_TIME)).map(toAbsorptionBand);
  }

  @ResolveField()
  async acceptances(@Parent() { id }: DeviceLotView, @Context() context: RequestContext): Promise<LotAcceptanceView[]> {
    return (await context.load.many(LotAcceptance, 'deviceLotId', id, IN_TIME)).map(toLotAcceptance);
  }

  @ResolveField()
  async statistics(@Parent() { id }: DeviceLotView, @Context() context: RequestContext): Promise<LotStatistics> {
    const units = await context.load.many(DeviceUnit, 'deviceLotId', id, 'label');
    return lotStatisticsOf(await Promise.all(units.map(async (unit) => {
      const [sweeps, choppedRuns, curves, retirement] = await Promise.all([
        standingOf(context, BiasSweep, unit.id), standingOf(context, ChoppedRun, unit.id), context.load.many(BiasThresholdCurve, 'deviceUnitId', unit.id, 'id DESC'), retirementOf(context, unit.id),
      ]);
      return { unit, sweeps, choppedRuns, curve: curves[0] ?? null, retired: retirement !== null };
    })));
  }
}

@Resolver('BiasThresholdCurve')
export class PassportCurveResolver {
  @ResolveField()
  exponents(@Parent() parent: CurveView, @Context() context: RequestContext): Promise<ComparedExponent[]> {
    return context.load.batch('exponents', `${parent.id} ${parent.deviceUnitId}`, async (tx, keys) => {
      const unitIds = keys.map((key) => key.split(' ')[1]!);
      const [tests, sweeps, curves] = [
        await rowsBy(tx, TripTest, 'deviceUnitId', unitIds, IN_TIME), await rowsBy(tx, BiasSweep, 'deviceUnitId', unitIds, IN_TIME), await rowsBy(tx, BiasThresholdCurve, 'deviceUnitId', unitIds),
      ];
      return keys.map((key) => {
        const [curveId, unitId] = key.split(' ');
        const used = new Set(curves.find(({ id }) => id === curveId)?.document.tripTestIds);
        return exponentsOf(tests.filter(({ id }) => used.has(id)), sweeps.filter(({ deviceUnitId }) => deviceUnitId === unitId));
      });
    });
  }
}

@Resolver('AbsorptionBand')
export class AbsorptionBandFileResolver {
  @ResolveField()
  file(@Parent() parent: { readonly storedFileId: string | null }, @Context() context: RequestContext): Promise<StoredFileView | null> {
    return storedFileOf(context, parent.storedFileId);
  }

  @ResolveField()
  async spectrum(@Parent() parent: { readonly spectrumId: string | null }, @Context() context: RequestContext): Promise<SpectrumView | null> {
    const row = parent.spectrumId === null ? null : await context.load.one(Spectrum, parent.spectrumId);
    return row && toSpectrum(row);
  }
}

/** Facts of a passport can be retracted: each tells by which amendment. */
function standingFact(typeName: string): Type<unknown> {
  @Resolver(typeName)
  class StandingFactResolver {
    @ResolveField()
    amendedBy(@Parent() parent: RecordView, @Context() context: RequestContext): Promise<AmendmentView | null> {
      return amendmentOf(context, parent.id);
    }
  }
  Object.defineProperty(StandingFactResolver, 'name', { value: `${typeName}Resolver` });
  return StandingFactResolver;
}

export const standingFactResolvers = ['AbsorptionBand', 'ChoppedRun', 'ResetPulse', 'TemperatureRun', 'CycleCount'].map(standingFact);

