import { Args, Context, Mutation, Parent, ResolveField, Resolver } from '@nestjs/graphql';
import type { RetractInput } from '../../generated/schema.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { labelsOf } from '../thread/thread.repository.js';
import { Amendment } from './amendment.entity.js';
import { toAmendment, type AmendmentView } from './amendment.mapper.js';
import { staleAmong, staleResultsOf } from './amendment.repository.js';
import { AmendmentService } from './amendment.service.js';

/** The amendment that took a fact out of use, or null; in bulk for all facts of the request. */
export async function amendmentOf(context: RequestContext, factId: string): Promise<AmendmentView | null> {
  const [row] = await context.load.many(Amendment, 'targetId', factId);
  return row ? toAmendment(row) : null;
}

/** Whether a result rests on a fact amended since; in bulk for all results of the request. */
export const isStale = (context: RequestContext, resultId: string): Promise<boolean> =>
  context.load.batch('stale', resultId, async (tx, ids) => {
    const stale = await staleAmong(tx, ids);
    return ids.map((id) => stale.has(id));
  });

@Resolver()
export class AmendmentRootResolver {
  constructor(private readonly amendments: AmendmentService) {}

  @Mutation()
  retract(@Args('input') input: RetractInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.amendments.amend(tx, context.member, { ...input, replacementId: null }));
      return { amendment: toAmendment(row), replayed };
    });
  }
}

@Resolver('Amendment')
export class AmendmentResolver {
  @ResolveField()
  staleResults(@Parent() parent: AmendmentView, @Context() context: RequestContext): Promise<object[]> {
    return context.load.batch('staleResults', parent.id, async (tx, ids) => {
      const results = await staleResultsOf(tx, ids);
      const labels = await labelsOf(tx, results);
      return ids.map((id) =>
        results.filter(({ amendmentId }) => amendmentId === id).map((result) => ({ kind: result.kind, id: result.id, label: labels.get(result.id) ?? result.id })),
      );
    });
  }
}
