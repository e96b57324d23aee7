import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { RecordCropInput, RecordDiscInput, RecordLeafInput, RecordPlantInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { Crop, Disc, Leaf, Plant } from './sample.entity.js';
import { toCrop, toDisc, toLeaf, toPlant, type CropView, type DiscView, type LeafView, type PlantView } from './sample.mapper.js';
import { countDiscs, cropsByName, discByLabel, discsPage, plantsPage, type DiscSearch } from './sample.repository.js';
import { SampleService } from './sample.service.js';

interface DiscsArgs extends DiscSearch {
  readonly first?: number;
  readonly after?: string;
}

@Resolver()
export class SampleResolver {
  constructor(private readonly samples: SampleService) {}

  @Query()
  async crops(@Context() context: RequestContext): Promise<CropView[]> {
    return (await cropsByName(await context.read())).map(toCrop);
  }

  @Query()
  async plants(@Args() args: { first?: number; after?: string; search?: string }, @Context() context: RequestContext): Promise<object> {
    const page = await plantsPage(await context.read(), args, args.search);
    return { ...page, nodes: page.nodes.map(toPlant) };
  }

  @Query()
  async leaf(@Args('id') id: string, @Context() context: RequestContext): Promise<LeafView | null> {
    const row = await rowById(await context.read(), Leaf, id);
    return row && toLeaf(row);
  }

  @Query()
  async discs(@Args() args: DiscsArgs, @Context() context: RequestContext): Promise<object> {
    const tx = await context.read();
    const page = await discsPage(tx, args, args);
    return { ...page, nodes: page.nodes.map(toDisc), totalCount: () => countDiscs(tx, args) };
  }

  @Query()
  async disc(@Args('id') id: string, @Context() context: RequestContext): Promise<DiscView | null> {
    const row = await rowById(await context.read(), Disc, id);
    return row && toDisc(row);
  }

  @Query()
  async discByLabel(@Args('label') label: string, @Context() context: RequestContext): Promise<DiscView | null> {
    const row = await discByLabel(await context.read(), label);
    return row && toDisc(row);
  }

  @Mutation()
  recordCrop(@Args('input') input: RecordCropInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.samples.recordCrop(tx, context.member, input));
      return { crop: toCrop(row), replayed };
    });
  }

  @Mutation()
  recordPlant(@Args('input') input: RecordPlantInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.samples.recordPlant(tx, context.member, input));
      return { plant: toPlant(row), replayed };
    });
  }

  @Mutation()
  recordLeaf(@Args('input') input: RecordLeafInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.samples.recordLeaf(tx, context.member, input));
      return { leaf: toLeaf(row), replayed };
    });
  }

  @Mutation()
  recordDisc(@Args('input') input: RecordDiscInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.samples.recordDisc(tx, context.member, input));
      return { disc: toDisc(row), replayed };
    });
  }
}

@Resolver('Plant')
export class PlantResolver {
  @ResolveField()
  async crop(@Parent() plant: PlantView, @Context() context: RequestContext): Promise<CropView> {
    return toCrop((await context.load.one(Crop, plant.cropId))!);
  }

  @ResolveField()
  async leaves(@Parent() plant: PlantView, @Context() context: RequestContext): Promise<LeafView[]> {
    return (await context.load.many(Leaf, 'plantId', plant.id)).map(toLeaf);
  }
}

@Resolver('Leaf')
export class LeafResolver {
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
export class DiscResolver {
  @ResolveField()
  async leaf(@Parent() disc: DiscView, @Context() context: RequestContext): Promise<LeafView> {
    return toLeaf((await context.load.one(Leaf, disc.leafId))!);
  }
}
