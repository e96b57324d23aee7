import { Args, Context, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { ThreadDirection } from '../../generated/schema.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { personOf } from '../../platform/graphql/graphql.options.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import type { AmendmentView } from '../amendment/amendment.mapper.js';
import { amendmentOf } from '../amendment/amendment.resolver.js';
import { kindOfRecord, ledgerPage, type LedgerFilter } from './thread.repository.js';
import { ThreadService, type ThreadNodeView, type ThreadView } from './thread.service.js';

@Resolver()
export class ThreadResolver {
  constructor(private readonly threads: ThreadService) {}

  @Query()
  async thread(@Args() args: { kind: string; id: string; direction: ThreadDirection }, @Context() context: RequestContext): Promise<ThreadView> {
    return this.threads.thread(await context.read(), args, args.direction);
  }

  @Query()
  async recordKind(@Args('id') id: string, @Context() context: RequestContext): Promise<string | null> {
    return kindOfRecord(await context.read(), id);
  }

  @Query()
  async ledger(@Args() filter: LedgerFilter, @Context() context: RequestContext): Promise<object> {
    const page = await ledgerPage(await context.read(), filter);
    return {
      ...page,
      nodes: page.nodes.map((row) => ({
        ...row,
        recordedAt: formatMoment(row.recordedAt),
        contentHash: row.contentHash.toString('hex'),
        person: () => personOf(context, row.recordedBy),
      })),
    };
  }
}

@Resolver('ThreadNode')
export class ThreadNodeResolver {
  @ResolveField()
  recordedBy(@Parent() parent: ThreadNodeView, @Context() context: RequestContext): Promise<object> {
    return personOf(context, parent.recordedById);
  }

  @ResolveField()
  amendedBy(@Parent() parent: ThreadNodeView, @Context() context: RequestContext): Promise<AmendmentView | null> {
    return amendmentOf(context, parent.id);
  }
}
