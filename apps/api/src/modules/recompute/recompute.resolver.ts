import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import { RequestContext } from '../../platform/graphql/context.js';
import type { RecordKey } from '../thread/thread.repository.js';
import { RecomputeService, type RecomputationView } from './recompute.service.js';

@Resolver()
export class RecomputeResolver {
  constructor(private readonly recomputing: RecomputeService) {}

  @Query()
  async recompute(@Args() { kind, id }: RecordKey, @Context() context: RequestContext): Promise<RecomputationView> {
    return this.recomputing.recompute(await context.read(), { kind, id });
  }
}
