import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import { CONSTANT_MASS_RULES } from '#libs/leaf-water';
import type { RecordOvenCoolingInput, RecordOvenTemperatureInput, StartOvenCycleInput, UnloadOvenCycleInput } from '../../generated/schema.js';
import { rowById, rowsByIds, rowsWhere } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { Weighing } from '../bench/bench.entity.js';
import { toWeighing, type WeighingView } from '../bench/bench.mapper.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { toInstrument, type InstrumentView } from '../instrument/instrument.mapper.js';
import { Protocol } from '../protocol/protocol.entity.js';
import { toProtocol } from '../protocol/protocol.mapper.js';
import { Disc } from '../sample/sample.entity.js';
import { toDisc, type DiscView } from '../sample/sample.mapper.js';
import { OvenCooling, OvenCycle, OvenTemperature, OvenUnloading } from './oven.entity.js';
import { toOvenCooling, toOvenCycle, toOvenTemperature, type OvenCoolingView, type OvenCycleView, type OvenTemperatureView } from './oven.mapper.js';
import { constantMasses, ruleOf, type DiscConstantMass } from './constant-mass.js';
import { OvenService } from './oven.service.js';

@Resolver()
export class OvenRootResolver {
  constructor(private readonly ovens: OvenService) {}

  @Query()
  async ovenCycles(@Args('first') first: number, @Context() context: RequestContext): Promise<OvenCycleView[]> {
    const most = Math.min(Math.max(first, 1), 200);
    return (await rowsWhere(await context.read(), OvenCycle, 'true', [], `ORDER BY id DESC LIMIT ${most}`)).map(toOvenCycle);
  }

  @Query()
  async ovenCycle(@Args('id') id: string, @Context() context: RequestContext): Promise<OvenCycleView | null> {
    const row = await rowById(await context.read(), OvenCycle, id);
    return row && toOvenCycle(row);
  }

  @Query()
  constantMassRules(): object[] {
    return Object.keys(CONSTANT_MASS_RULES).map(ruleOf);
  }

  @Mutation()
  recordOvenTemperature(@Args('input') input: RecordOvenTemperatureInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { replayed } = await context.write((tx) => this.ovens.recordTemperature(tx, context.member, input));
      return { ovenCycle: await this.ovenCycle(input.ovenCycleId, context), replayed };
    });
  }

  @Mutation()
  recordOvenCooling(@Args('input') input: RecordOvenCoolingInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { replayed } = await context.write((tx) => this.ovens.recordCooling(tx, context.member, input));
      return { ovenCycle: await this.ovenCycle(input.ovenCycleId, context), replayed };
    });
  }

  @Mutation()
  startOvenCycle(@Args('input') input: StartOvenCycleInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.ovens.start(tx, context.member, input));
      return { ovenCycle: toOvenCycle(row), replayed };
    });
  }

  @Mutation()
  unloadOvenCycle(@Args('input') input: UnloadOvenCycleInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { replayed } = await context.write((tx) => this.ovens.unload(tx, context.member, input));
      return { ovenCycle: await this.ovenCycle(input.ovenCycleId, context), replayed };
    });
  }
}

/** Of all cycles of the request at once. */
function massesOf({ id }: OvenCycleView, context: RequestContext): Promise<DiscConstantMass[]> {
  return context.load.batch('constantMasses', id, async (tx, ids) => {
    const masses = await constantMasses(tx, await rowsByIds(tx, OvenCycle, ids));
    return ids.map((each) => masses.get(each) ?? []);
  });
}

@Resolver('OvenCycle')
export class OvenCycleResolver {
  @ResolveField()
  async oven(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<InstrumentView> {
    return toInstrument((await context.load.one(Instrument, parent.ovenId))!);
  }

  @ResolveField()
  discs(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<DiscView[]> {
    return Promise.all(parent.discIds.map(async (id) => toDisc((await context.load.one(Disc, id))!)));
  }

  @ResolveField()
  trayMap(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<object[]> {
    return Promise.all(parent.trayPlaces.map(async ({ discId, row, column }) => ({ row, column, disc: toDisc((await context.load.one(Disc, discId))!) })));
  }

  @ResolveField()
  constantMassRule(@Parent() parent: OvenCycleView): object {
    return ruleOf(parent.ruleKey);
  }

  @ResolveField()
  async temperatures(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<OvenTemperatureView[]> {
    return (await context.load.many(OvenTemperature, 'ovenCycleId', parent.id, 'observed_at, id')).map(toOvenTemperature);
  }

  @ResolveField()
  async coolings(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<OvenCoolingView[]> {
    return (await context.load.many(OvenCooling, 'ovenCycleId', parent.id, 'taken_out_at, id')).map(toOvenCooling);
  }

  @ResolveField()
  async nextCheckAt(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<string | null> {
    if ((await context.load.many(OvenUnloading, 'ovenCycleId', parent.id)).length > 0) return null;
    const open = (await massesOf(parent, context)).filter(({ result, gone }) => !gone && !result?.constant);
    const nexts = open.flatMap(({ result }) => result?.nextCheckAtMs ?? []);
    return nexts.length > 0 ? formatMoment(new Date(Math.min(...nexts))) : null;
  }

  @ResolveField()
  async scannedDiscs(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<DiscView[] | null> {
    const [row] = await context.load.many(OvenUnloading, 'ovenCycleId', parent.id);
    return row?.scannedDiscIds ? Promise.all(row.scannedDiscIds.map(async (id) => toDisc((await context.load.one(Disc, id))!))) : null;
  }

  @ResolveField()
  async unloadedAt(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<string | null> {
    const [row] = await context.load.many(OvenUnloading, 'ovenCycleId', parent.id);
    return row ? formatMoment(row.unloadedAt, row.unloadedOffsetMin) : null;
  }

  @ResolveField()
  async unloadReason(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<string | null> {
    return (await context.load.many(OvenUnloading, 'ovenCycleId', parent.id))[0]?.reason ?? null;
  }

  @ResolveField()
  async checkWeighings(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<WeighingView[]> {
    return (await context.load.many(Weighing, 'ovenCycleId', parent.id, 'observed_at, id')).map(toWeighing);
  }

  @ResolveField()
  async constantMass(@Parent() parent: OvenCycleView, @Context() context: RequestContext): Promise<object[]> {
    return Promise.all((await massesOf(parent, context)).map(async ({ discId, lastMassMg, result, rule, protocolId }) => ({
      rule,
      protocol: protocolId && toProtocol((await context.load.one(Protocol, protocolId))!),
      disc: toDisc((await context.load.one(Disc, discId))!),
      reached: result?.constant ?? false,
      lastMassMg,
      lossMg: result?.lossMg ?? null,
      toleranceMg: result?.toleranceMg ?? null,
      limb: result?.limbApplied?.toUpperCase() ?? null,
      message: result?.message ?? null,
      nextCheckAt: result?.nextCheckAtMs != null ? formatMoment(new Date(result.nextCheckAtMs)) : null,
    })));
  }
}
