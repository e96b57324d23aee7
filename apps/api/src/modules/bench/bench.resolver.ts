import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type {
  AmendsInput, CheckStatus, DryingRunState, DryingRunStepInput, OpenDryingRunInput, RecordMeterReadingInput, RecordWeighingInput, WeighWouldBeInput,
} from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { toAmendment, type AmendmentView } from '../amendment/amendment.mapper.js';
import { amendmentOf } from '../amendment/amendment.resolver.js';
import { Instrument, Rig } from '../instrument/instrument.entity.js';
import { toInstrument, toRig, type InstrumentView, type RigView } from '../instrument/instrument.mapper.js';
import { standingAt } from '../instrument/instrument.resolver.js';
import { OvenCycle } from '../oven/oven.entity.js';
import { toOvenCycle, type OvenCycleView } from '../oven/oven.mapper.js';
import { Disc } from '../sample/sample.entity.js';
import { toDisc, type DiscView } from '../sample/sample.mapper.js';
import { RwcSeries } from '../water/rwc-series.entity.js';
import { toRwcSeries, type RwcSeriesView } from '../water/water.mapper.js';
import { Protocol } from '../protocol/protocol.entity.js';
import { toProtocol, type ProtocolView } from '../protocol/protocol.mapper.js';
import { HOUSE_PARAMETERS, type Parameters } from '../protocol/protocol-parameters.js';
import { DryingRun, MeterReading, Preflight, Weighing } from './bench.entity.js';
import { toDryingRun, toMeterReading, toPreflight, toWeighing, type DryingRunView, type MeterReadingView, type PreflightView, type WeighingView } from './bench.mapper.js';
import { dryingRunsPage, lampReadings, statesOfRuns } from './bench.repository.js';
import { BenchService } from './bench.service.js';
import { rwcNow, type RwcNowView } from './rwc-now.js';

const IN_TIME = 'observed_at, id';

@Resolver()
export class BenchResolver {
  constructor(private readonly bench: BenchService) {}

  @Query()
  async dryingRuns(@Args() args: { first?: number; after?: string; state?: DryingRunState }, @Context() context: RequestContext): Promise<object> {
    const page = await dryingRunsPage(await context.read(), args, args.state ?? null);
    return { ...page, nodes: page.nodes.map(toDryingRun) };
  }

  @Query()
  async dryingRun(@Args('id') id: string, @Context() context: RequestContext): Promise<DryingRunView | null> {
    const row = await rowById(await context.read(), DryingRun, id);
    return row && toDryingRun(row);
  }

  @Query()
  async weighing(@Args('id') id: string, @Context() context: RequestContext): Promise<WeighingView | null> {
    const row = await rowById(await context.read(), Weighing, id);
    return row && toWeighing(row);
  }

  @Query()
  weighWouldBe(@Args('input') input: WeighWouldBeInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => this.bench.wouldBe(await context.read(), input), { provisional: false, flags: [] });
  }

  @Mutation()
  openDryingRun(@Args('input') input: OpenDryingRunInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.bench.openDryingRun(tx, context.member, input));
      return { dryingRun: toDryingRun(row), replayed };
    });
  }

  @Mutation()
  closeDryingRun(@Args('input') input: DryingRunStepInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { replayed } = await context.write((tx) => this.bench.closeDryingRun(tx, context.member, input));
      return { dryingRun: await this.dryingRun(input.dryingRunId, context), replayed };
    });
  }

  @Mutation()
  releaseDryingRun(@Args('input') input: DryingRunStepInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { replayed } = await context.write((tx) => this.bench.releaseDryingRun(tx, context.member, input));
      return { dryingRun: await this.dryingRun(input.dryingRunId, context), replayed };
    });
  }

  @Mutation()
  recordWeighing(@Args('input') input: RecordWeighingInput, @Context() context: RequestContext): Promise<object> {
    return settle(
      async () => {
        const { row, replayed } = await context.write((tx) => this.bench.recordWeighing(tx, context.member, input));
        return { weighing: toWeighing(row), replayed, flags: row.flags };
      },
      { flags: [] },
    );
  }

  @Mutation()
  recordMeterReading(@Args('input') input: RecordMeterReadingInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.bench.recordMeterReading(tx, context.member, input));
      return { meterReading: toMeterReading(row), replayed };
    });
  }

  @Mutation()
  amendWeighing(@Args('input') input: RecordWeighingInput, @Args('amends') amends: AmendsInput, @Context() context: RequestContext): Promise<object> {
    return settle(
      async () => {
        const { weighing, amendment } = await context.write((tx) => this.bench.amendWeighing(tx, context.member, input, amends));
        return { weighing: toWeighing(weighing.row), amendment: toAmendment(amendment.row), replayed: weighing.replayed, flags: weighing.row.flags };
      },
      { flags: [] },
    );
  }

  @Mutation()
  amendMeterReading(@Args('input') input: RecordMeterReadingInput, @Args('amends') amends: AmendsInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { reading, amendment } = await context.write((tx) => this.bench.amendMeterReading(tx, context.member, input, amends));
      return { meterReading: toMeterReading(reading.row), amendment: toAmendment(amendment.row), replayed: reading.replayed };
    });
  }
}

@Resolver('DryingRun')
export class DryingRunResolver {
  @ResolveField()
  state(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<DryingRunState> {
    return context.load.batch('runState', parent.id, async (tx, ids) => {
      const states = await statesOfRuns(tx, ids);
      return ids.map((id) => states.get(id) ?? 'OPEN');
    });
  }

  @ResolveField()
  async rig(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<RigView> {
    return toRig((await context.load.one(Rig, parent.rigId))!);
  }

  @ResolveField()
  async balance(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<InstrumentView> {
    return toInstrument((await context.load.one(Instrument, parent.balanceId))!);
  }

  @ResolveField()
  discs(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<DiscView[]> {
    return Promise.all(parent.discIds.map(async (id) => toDisc((await context.load.one(Disc, id))!)));
  }

  @ResolveField()
  async protocol(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<ProtocolView | null> {
    const row = parent.protocolId ? await context.load.one(Protocol, parent.protocolId) : null;
    return row && toProtocol(row);
  }

  @ResolveField()
  async parameters(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<Parameters> {
    return (parent.protocolId && (await context.load.one(Protocol, parent.protocolId))?.parameters) || HOUSE_PARAMETERS;
  }

  @ResolveField()
  async preflights(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<PreflightView[]> {
    return (await context.load.many(Preflight, 'dryingRunId', parent.id, IN_TIME)).map(toPreflight);
  }

  @ResolveField()
  async rwcNow(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<RwcNowView[]> {
    return rwcNow(await context.read(), parent);
  }

  @ResolveField()
  async weighings(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<WeighingView[]> {
    return (await context.load.many(Weighing, 'dryingRunId', parent.id, IN_TIME)).map(toWeighing);
  }

  @ResolveField()
  async meterReadings(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<MeterReadingView[]> {
    return (await context.load.many(MeterReading, 'dryingRunId', parent.id, IN_TIME)).map(toMeterReading);
  }

  @ResolveField()
  async rwcSeries(@Parent() parent: DryingRunView, @Context() context: RequestContext): Promise<RwcSeriesView[]> {
    const all = await context.load.many(RwcSeries, 'dryingRunId', parent.id, 'id DESC');
    const newest = new Map(all.toReversed().map((series) => [series.discId, series]));
    return [...newest.values()].map(toRwcSeries);
  }
}

/** How lamp and meter of a rig behaved, beside what the instruments module knows of it. */
@Resolver('Rig')
export class RigLampResolver {
  @ResolveField()
  async lampReadings(@Parent() parent: RigView, @Args('first') first: number, @Context() context: RequestContext): Promise<MeterReadingView[]> {
    return (await lampReadings(await context.read(), parent.id, first)).map(toMeterReading);
  }
}

@Resolver('RwcNow')
export class RwcNowResolver {
  @ResolveField()
  async disc(@Parent() parent: RwcNowView, @Context() context: RequestContext): Promise<DiscView> {
    return toDisc((await context.load.one(Disc, parent.discId))!);
  }
}

@Resolver('Weighing')
export class WeighingResolver {
  @ResolveField()
  async disc(@Parent() parent: WeighingView, @Context() context: RequestContext): Promise<DiscView> {
    return toDisc((await context.load.one(Disc, parent.discId))!);
  }

  @ResolveField()
  async balance(@Parent() parent: WeighingView, @Context() context: RequestContext): Promise<InstrumentView | null> {
    const row = parent.balanceId ? await context.load.one(Instrument, parent.balanceId) : null;
    return row && toInstrument(row);
  }

  @ResolveField()
  async balanceStatusThen(@Parent() parent: WeighingView, @Context() context: RequestContext): Promise<CheckStatus | null> {
    return parent.balanceId ? (await standingAt(context, parent.balanceId, parent.observed)).status : null;
  }

  @ResolveField()
  async dryingRun(@Parent() parent: WeighingView, @Context() context: RequestContext): Promise<DryingRunView | null> {
    const row = parent.dryingRunId ? await context.load.one(DryingRun, parent.dryingRunId) : null;
    return row && toDryingRun(row);
  }

  @ResolveField()
  async ovenCycle(@Parent() parent: WeighingView, @Context() context: RequestContext): Promise<OvenCycleView | null> {
    const row = parent.ovenCycleId ? await context.load.one(OvenCycle, parent.ovenCycleId) : null;
    return row && toOvenCycle(row);
  }

  @ResolveField()
  amendedBy(@Parent() parent: WeighingView, @Context() context: RequestContext): Promise<AmendmentView | null> {
    return amendmentOf(context, parent.id);
  }
}

@Resolver('MeterReading')
export class MeterReadingResolver {
  @ResolveField()
  async disc(@Parent() parent: MeterReadingView, @Context() context: RequestContext): Promise<DiscView | null> {
    const row = parent.discId ? await context.load.one(Disc, parent.discId) : null;
    return row && toDisc(row);
  }

  @ResolveField()
  async dryingRun(@Parent() parent: MeterReadingView, @Context() context: RequestContext): Promise<DryingRunView> {
    return toDryingRun((await context.load.one(DryingRun, parent.dryingRunId))!);
  }

  @ResolveField()
  amendedBy(@Parent() parent: MeterReadingView, @Context() context: RequestContext): Promise<AmendmentView | null> {
    return amendmentOf(context, parent.id);
  }
}

/** A disc's weighings, beside what the samples module knows of it. */
@Resolver('Disc')
export class DiscWeighingsResolver {
  @ResolveField()
  async weighings(@Parent() parent: DiscView, @Context() context: RequestContext): Promise<WeighingView[]> {
    return (await context.load.many(Weighing, 'discId', parent.id, IN_TIME)).map(toWeighing);
  }
}
