import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { EndHydrationInput, StartHydrationInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { Protocol } from '../protocol/protocol.entity.js';
import { toProtocol, type ProtocolView } from '../protocol/protocol.mapper.js';
import { HOUSE_PARAMETERS, type Parameters } from '../protocol/protocol-parameters.js';
import { Disc } from '../sample/sample.entity.js';
import { toDisc, type DiscView } from '../sample/sample.mapper.js';
import { Hydration } from './hydration.entity.js';
import { toHydration, toHydrationEnd, type HydrationEndView, type HydrationView } from './hydration.mapper.js';
import { endsOf, hydrationsNewest } from './hydration.repository.js';
import { HydrationService, windowOf } from './hydration.service.js';

@Resolver()
export class HydrationRootResolver {
  constructor(private readonly service: HydrationService) {}

  @Query()
  async hydrations(@Args('first') first: number, @Context() context: RequestContext): Promise<HydrationView[]> {
    return (await hydrationsNewest(await context.read(), first)).map(toHydration);
  }

  @Mutation()
  startHydration(@Args('input') input: StartHydrationInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.start(tx, context.member, input));
      return { hydration: toHydration(row), replayed };
    });
  }

  @Mutation()
  endHydration(@Args('input') input: EndHydrationInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.end(tx, context.member, input));
      return { hydration: toHydration((await rowById(await context.read(), Hydration, row.hydrationId))!), replayed };
    });
  }
}

const parametersHere = async ({ protocolId }: HydrationView, context: RequestContext): Promise<Parameters> =>
  (protocolId && (await context.load.one(Protocol, protocolId))?.parameters) || HOUSE_PARAMETERS;

@Resolver('Hydration')
export class HydrationResolver {
  @ResolveField()
  discs(@Parent() parent: HydrationView, @Context() context: RequestContext): Promise<DiscView[]> {
    return Promise.all(parent.discIds.map(async (id) => toDisc((await context.load.one(Disc, id))!)));
  }

  @ResolveField()
  async protocol(@Parent() parent: HydrationView, @Context() context: RequestContext): Promise<ProtocolView | null> {
    const row = parent.protocolId ? await context.load.one(Protocol, parent.protocolId) : null;
    return row && toProtocol(row);
  }

  @ResolveField()
  parameters(@Parent() parent: HydrationView, @Context() context: RequestContext): Promise<Parameters> {
    return parametersHere(parent, context);
  }

  @ResolveField()
  async endsFrom(@Parent() parent: HydrationView, @Context() context: RequestContext): Promise<string> {
    return formatMoment(windowOf(parent.started, await parametersHere(parent, context)).from, parent.startedOffsetMin);
  }

  @ResolveField()
  async endsBy(@Parent() parent: HydrationView, @Context() context: RequestContext): Promise<string> {
    return formatMoment(windowOf(parent.started, await parametersHere(parent, context)).by, parent.startedOffsetMin);
  }

  @ResolveField()
  end(@Parent() { id }: HydrationView, @Context() context: RequestContext): Promise<HydrationEndView | null> {
    return context.load.batch('hydration end', id, async (tx, ids) => {
      const ends = new Map((await endsOf(tx, ids)).map((row) => [row.hydrationId, toHydrationEnd(row)]));
      return ids.map((wanted) => ends.get(wanted) ?? null);
    });
  }
}
