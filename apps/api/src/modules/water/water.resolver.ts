import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { ComputeRwcSeriesInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { isStale } from '../amendment/amendment.resolver.js';
import { DryingRun } from '../bench/bench.entity.js';
import { toDryingRun, type DryingRunView } from '../bench/bench.mapper.js';
import { Disc } from '../sample/sample.entity.js';
import { toDisc, type DiscView } from '../sample/sample.mapper.js';
import { RwcSeries } from './rwc-series.entity.js';
import { toRwcSeries, type RwcSeriesView } from './water.mapper.js';
import { WaterService } from './water.service.js';

@Resolver()
export class WaterResolver {
  constructor(private readonly water: WaterService) {}

  @Query()
  async rwcSeries(@Args('id') id: string, @Context() context: RequestContext): Promise<RwcSeriesView | null> {
    const row = await rowById(await context.read(), RwcSeries, id);
    return row && toRwcSeries(row);
  }

  @Mutation()
  computeRwcSeries(@Args('input') input: ComputeRwcSeriesInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.water.compute(tx, context.member, { ...input, dryingRunId: null }));
      return { rwcSeries: toRwcSeries(row), replayed };
    });
  }
}

@Resolver('RwcSeries')
export class RwcSeriesResolver {
  @ResolveField()
  async disc(@Parent() parent: RwcSeriesView, @Context() context: RequestContext): Promise<DiscView> {
    return toDisc((await context.load.one(Disc, parent.discId))!);
  }

  @ResolveField()
  async dryingRun(@Parent() parent: RwcSeriesView, @Context() context: RequestContext): Promise<DryingRunView | null> {
    const row = parent.dryingRunId ? await context.load.one(DryingRun, parent.dryingRunId) : null;
    return row && toDryingRun(row);
  }

  @ResolveField()
  stale(@Parent() parent: RwcSeriesView, @Context() context: RequestContext): Promise<boolean> {
    return isStale(context, parent.id);
  }
}

/** Water status of a disc, beside what the samples module knows of it. */
@Resolver('Disc')
export class DiscWaterResolver {
  @ResolveField()
  async rwcSeries(@Parent() parent: DiscView, @Context() context: RequestContext): Promise<RwcSeriesView | null> {
    const [newest] = await context.load.many(RwcSeries, 'discId', parent.id, 'id DESC');
    return newest ? toRwcSeries(newest) : null;
  }
}
