import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import type { ThreadDirection } from '../../generated/schema.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { rowsBy } from '../../platform/database/rows.js';
import type { Tx } from '../../platform/database/database.js';
import { peopleByIds } from '../../platform/identity/account.repository.js';
import { Amendment } from '../amendment/amendment.entity.js';
import { toAmendment } from '../amendment/amendment.mapper.js';
import { kindOfRecord, tokensOf } from './thread.repository.js';
import { ThreadService, type ThreadNodeView } from './thread.service.js';

@Resolver()
export class ThreadResolver {
  constructor(private readonly threads: ThreadService) {}

  @Query()
  async thread(@Args() args: { kind: string; id: string; direction: ThreadDirection }, @Context() context: RequestContext): Promise<object> {
    const tx = await context.read();
    const { nodes, edges, truncated } = await this.threads.thread(tx, args, args.direction);
    const told = await withPeopleAndAmendments(tx, nodes);
    return { root: told[0]!, nodes: told, edges, truncated };
  }

  @Query()
  async recordKind(@Args('id') id: string, @Context() context: RequestContext): Promise<string | null> {
    return kindOfRecord(await context.read(), id);
  }
}

/** In bulk and beforehand, not field by field: a Thread has a thousand nodes, and each promise among them costs more than its row. */
async function withPeopleAndAmendments(tx: Tx, nodes: readonly ThreadNodeView[]): Promise<object[]> {
  const people = new Map((await peopleByIds(tx, [...new Set(nodes.map(({ recordedById }) => recordedById))])).map((person) => [person.id, person]));
  const amendments = new Map((await rowsBy(tx, Amendment, 'targetId', nodes.map(({ id }) => id))).map((row) => [row.targetId, toAmendment(row)]));
  const tokens = await tokensOf(tx, nodes.map(({ id }) => id));
  return nodes.map((node) => ({
    ...node, recordedBy: people.get(node.recordedById), throughToken: tokens.get(node.id) ?? null, amendedBy: amendments.get(node.id) ?? null,
  }));
}
