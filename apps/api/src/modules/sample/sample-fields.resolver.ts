import { Context, Parent, ResolveField, Resolver } from '@nestjs/graphql';
import { RequestContext } from '../../platform/graphql/context.js';
import type { StoredFileView } from '../stored-file/stored-file.mapper.js';
import { storedFileOf } from '../stored-file/stored-file.resolver.js';
import { Crop, Disc, Leaf, Plant, SampleAmendment } from './sample.entity.js';
import {
  toCrop, toDisc, toLeaf, toPlant, toSampleAmendment, toSampleLoss,
  type CropView, type DiscView, type LeafView, type PlantView, type SampleAmendmentView, type SampleLossView,
} from './sample.mapper.js';
import { becomesOf, lossesOf } from './sample.repository.js';

/** A column of a description as it stands: what an amendment made of it, else what was recorded. */
async function asAmended<V extends { readonly id: string }, F extends keyof V & string>(context: RequestContext, view: V, field: F): Promise<V[F]> {
  const becomes = await context.load.batch('sample becomes', view.id, async (tx, ids) => {
    const found = await becomesOf(tx, ids);
    return ids.map((id) => found.get(id) ?? {});
  });
  return field in becomes ? (becomes[field] as V[F]) : view[field];
}

async function amendmentsOf(context: RequestContext, id: string): Promise<SampleAmendmentView[]> {
  return (await context.load.many(SampleAmendment, 'subjectId', id, 'recorded_at, id')).map(toSampleAmendment);
}

async function lossOf(context: RequestContext, id: string): Promise<SampleLossView | null> {
  const row = await context.load.batch('sample loss', id, async (tx, ids) => {
    const found = await lossesOf(tx, ids);
    return ids.map((each) => found.get(each) ?? null);
  });
  return row && toSampleLoss(row);
}

/** What plants, leaves and discs have in common. */
abstract class DescribedResolver {
  @ResolveField()
  amendments(@Parent() sample: { readonly id: string }, @Context() context: RequestContext): Promise<SampleAmendmentView[]> {
    return amendmentsOf(context, sample.id);
  }

  @ResolveField()
  loss(@Parent() sample: { readonly id: string }, @Context() context: RequestContext): Promise<SampleLossView | null> {
    return lossOf(context, sample.id);
  }
}

@Resolver('Plant')
export class PlantResolver extends DescribedResolver {
  @ResolveField()
  cultivar(@Parent() plant: PlantView, @Context() context: RequestContext): Promise<string | null> {
    return asAmended(context, plant, 'cultivar');
  }

  @ResolveField()
  treatment(@Parent() plant: PlantView, @Context() context: RequestContext): Promise<string | null> {
    return asAmended(context, plant, 'treatment');
  }

  @ResolveField()
  async crop(@Parent() plant: PlantView, @Context() context: RequestContext): Promise<CropView> {
    return toCrop((await context.load.one(Crop, plant.cropId))!);
  }

  @ResolveField()
  async mother(@Parent() plant: PlantView, @Context() context: RequestContext): Promise<PlantView | null> {
    const row = plant.motherId === null ? null : await context.load.one(Plant, plant.motherId);
    return row && toPlant(row);
  }

  @ResolveField()
  async leaves(@Parent() plant: PlantView, @Context() context: RequestContext): Promise<LeafView[]> {
    return (await context.load.many(Leaf, 'plantId', plant.id)).map(toLeaf);
  }
}

@Resolver('Leaf')
export class LeafResolver extends DescribedResolver {
  @ResolveField()
  position(@Parent() leaf: LeafView, @Context() context: RequestContext): Promise<string | null> {
    return asAmended(context, leaf, 'position');
  }

  @ResolveField()
  growthStage(@Parent() leaf: LeafView, @Context() context: RequestContext): Promise<string | null> {
    return asAmended(context, leaf, 'growthStage');
  }

  @ResolveField()
  photo(@Parent() leaf: LeafView, @Context() context: RequestContext): Promise<StoredFileView | null> {
    return storedFileOf(context, leaf.photoId);
  }

  @ResolveField()
  async plant(@Parent() leaf: LeafView, @Context() context: RequestContext): Promise<PlantView> {
    return toPlant((await context.load.one(Plant, leaf.plantId))!);
  }

  @ResolveField()
  async discs(@Parent() leaf: LeafView, @Context() context: RequestContext): Promise<DiscView[]> {
    return (await context.load.many(Disc, 'leafId', leaf.id)).map(toDisc);
  }
}

@Resolver('Disc')
export class DiscResolver extends DescribedResolver {
  @ResolveField()
  position(@Parent() disc: DiscView, @Context() context: RequestContext): Promise<string | null> {
    return asAmended(context, disc, 'position');
  }

  @ResolveField()
  leafSide(@Parent() disc: DiscView, @Context() context: RequestContext): Promise<DiscView['leafSide']> {
    return asAmended(context, disc, 'leafSide');
  }

  @ResolveField()
  diameterMm(@Parent() disc: DiscView, @Context() context: RequestContext): Promise<string | null> {
    return asAmended(context, disc, 'diameterMm');
  }

  @ResolveField()
  async leaf(@Parent() disc: DiscView, @Context() context: RequestContext): Promise<LeafView> {
    return toLeaf((await context.load.one(Leaf, disc.leafId))!);
  }
}
