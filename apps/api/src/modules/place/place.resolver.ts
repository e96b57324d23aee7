import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { RecordCustodyInput, RecordPlaceInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import type { AmendmentView } from '../amendment/amendment.mapper.js';
import { amendmentOf } from '../amendment/amendment.resolver.js';
import { labelsOf } from '../thread/thread.repository.js';
import { Place } from './place.entity.js';
import { toCustody, toPlace, type CustodyView, type PlaceView } from './place.mapper.js';
import { allPlaces, countsIn, custodiesOf, insideOf, samplesIn, standingCustodies } from './place.repository.js';
import { PlaceService } from './place.service.js';

@Resolver()
export class PlaceRootResolver {
  constructor(private readonly service: PlaceService) {}

  @Query()
  async places(@Context() context: RequestContext): Promise<PlaceView[]> {
    return (await allPlaces(await context.read())).map(toPlace);
  }

  @Query()
  async place(@Args('id') id: string, @Context() context: RequestContext): Promise<PlaceView | null> {
    const row = await rowById(await context.read(), Place, id);
    return row && toPlace(row);
  }

  @Query()
  async custodies(@Args('subjectId') subjectId: string, @Context() context: RequestContext): Promise<CustodyView[]> {
    return (await custodiesOf(await context.read(), subjectId)).map(toCustody);
  }

  @Mutation()
  recordPlace(@Args('input') input: RecordPlaceInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.record(tx, context.member, input));
      return { place: toPlace(row), replayed };
    });
  }

  @Mutation()
  recordCustody(@Args('input') input: RecordCustodyInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const written = await context.write((tx) => this.service.recordCustody(tx, context.member, input));
      return { custodies: written.map(({ row }) => toCustody(row)), replayed: written.every(({ replayed }) => replayed) };
    });
  }
}

/** From the top down to the place itself. */
async function pathOf(context: RequestContext, id: string): Promise<{ id: string; label: string }[]> {
  return context.load.batch('place path', id, async (tx, ids) => {
    const inside = await insideOf(tx);
    return ids.map((each) => {
      const path: { id: string; label: string }[] = [];
      for (let at: string | null = each; at !== null && path.length < 50; at = inside.get(at)?.insideId ?? null) {
        path.unshift({ id: at, label: inside.get(at)?.label ?? at });
      }
      return path;
    });
  });
}

async function custodyOf(context: RequestContext, subjectId: string): Promise<CustodyView | null> {
  const row = await context.load.batch('standing custody', subjectId, async (tx, ids) => {
    const found = await standingCustodies(tx, ids);
    return ids.map((id) => found.get(id) ?? null);
  });
  return row && toCustody(row);
}

@Resolver('Place')
export class PlaceResolver {
  @ResolveField()
  async inside(@Parent() place: PlaceView, @Context() context: RequestContext): Promise<PlaceView | null> {
    const around = (await pathOf(context, place.id)).at(-2);
    const row = around ? await context.load.one(Place, around.id) : null;
    return row && toPlace(row);
  }

  @ResolveField()
  async path(@Parent() place: PlaceView, @Context() context: RequestContext): Promise<string[]> {
    return (await pathOf(context, place.id)).map(({ label }) => label);
  }

  @ResolveField()
  sampleCount(@Parent() place: PlaceView, @Context() context: RequestContext): Promise<number> {
    return context.load.batch('samples in place', place.id, async (tx, ids) => {
      const counts = await countsIn(tx, ids);
      return ids.map((id) => counts.get(id) ?? 0);
    });
  }

  @ResolveField()
  async samples(@Parent() place: PlaceView, @Context() context: RequestContext): Promise<CustodyView[]> {
    return (await samplesIn(await context.read(), place.id)).map(toCustody);
  }
}

@Resolver('Custody')
export class CustodyResolver {
  @ResolveField()
  subject(@Parent() custody: CustodyView, @Context() context: RequestContext): Promise<object> {
    return context.load.batch(`label of ${custody.subjectKind}`, custody.subjectId, async (tx, ids) => {
      const labels = await labelsOf(tx, ids.map((id) => ({ kind: custody.subjectKind, id })));
      return ids.map((id) => ({ kind: custody.subjectKind, id, label: labels.get(id) ?? id }));
    });
  }

  @ResolveField()
  async place(@Parent() custody: CustodyView, @Context() context: RequestContext): Promise<PlaceView | null> {
    const row = custody.placeId === null ? null : await context.load.one(Place, custody.placeId);
    return row && toPlace(row);
  }

  @ResolveField()
  amendment(@Parent() custody: CustodyView, @Context() context: RequestContext): Promise<AmendmentView | null> {
    return amendmentOf(context, custody.id);
  }
}

abstract class KeptSomewhere {
  @ResolveField()
  custody(@Parent() sample: { readonly id: string }, @Context() context: RequestContext): Promise<CustodyView | null> {
    return custodyOf(context, sample.id);
  }
}

@Resolver('Plant')
export class PlantCustodyResolver extends KeptSomewhere {}

@Resolver('Leaf')
export class LeafCustodyResolver extends KeptSomewhere {}

@Resolver('Disc')
export class DiscCustodyResolver extends KeptSomewhere {}
