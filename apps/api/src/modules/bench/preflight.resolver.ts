import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { PreflightStandingInput, RecordPreflightInput } from '../../generated/schema.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { MeterReading } from './bench.entity.js';
import { toMeterReading, toPreflight, type MeterReadingView, type PreflightView } from './bench.mapper.js';
import type { PointStanding } from './preflight.js';
import { PreflightService } from './preflight.service.js';

@Resolver()
export class PreflightRootResolver {
  constructor(private readonly preflights: PreflightService) {}

  @Query()
  async preflightStanding(@Args('input') input: PreflightStandingInput, @Context() context: RequestContext): Promise<readonly PointStanding[]> {
    return this.preflights.standing(await context.read(), input);
  }

  @Mutation()
  recordPreflight(@Args('input') input: RecordPreflightInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.preflights.record(tx, context.member, input));
      return { preflight: toPreflight(row), replayed };
    });
  }
}

@Resolver('Preflight')
export class PreflightResolver {
  @ResolveField()
  async dark(@Parent() parent: PreflightView, @Context() context: RequestContext): Promise<MeterReadingView | null> {
    const row = parent.darkId ? await context.load.one(MeterReading, parent.darkId) : null;
    return row && toMeterReading(row);
  }

  @ResolveField()
  async reference(@Parent() parent: PreflightView, @Context() context: RequestContext): Promise<MeterReadingView | null> {
    const row = parent.referenceId ? await context.load.one(MeterReading, parent.referenceId) : null;
    return row && toMeterReading(row);
  }
}
