import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { personOf } from '../../platform/graphql/graphql.options.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { toJob } from '../job/job.mapper.js';
import type { RecordKey } from '../thread/thread.repository.js';
import { RecomputeAllService } from './recompute-all.service.js';
import { newestRuns } from './recompute.repository.js';
import { RecomputeService, type RecomputationView } from './recompute.service.js';

const RUNS_MOST = 50;

@Resolver()
export class RecomputeResolver {
  constructor(
    private readonly recomputing: RecomputeService,
    private readonly all: RecomputeAllService,
  ) {}

  @Query()
  async recompute(@Args() { kind, id }: RecordKey, @Context() context: RequestContext): Promise<RecomputationView> {
    return this.recomputing.recompute(await context.read(), { kind, id });
  }

  @Query()
  async recomputeRuns(@Args('first') first: number, @Context() context: RequestContext): Promise<object[]> {
    const runs = await newestRuns(await context.read(), Math.min(Math.max(first, 1), RUNS_MOST));
    return runs.map(({ startedBy, endedAt, ...run }) => ({ ...run, startedById: startedBy, endedAt: formatMoment(endedAt) }));
  }

  @Mutation()
  recomputeAll(@Args('id') id: string, @Context() context: RequestContext): Promise<object> {
    return settle(async () => ({ job: toJob(await context.write((tx) => this.all.start(tx, context.member, id))), replayed: false }));
  }
}

@Resolver('RecomputeRun')
export class RecomputeRunResolver {
  @ResolveField()
  startedBy(@Parent() { startedById }: { readonly startedById: string | null }, @Context() context: RequestContext): Promise<object> | null {
    return startedById ? personOf(context, startedById) : null;
  }
}
