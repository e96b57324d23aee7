import { Args, Context, Mutation, Query, Resolver } from '@nestjs/graphql';
import type {
  AmendSampleInput, RecordCropInput, RecordDiscInput, RecordLeafInput, RecordPlantInput, RecordSampleLossInput, RecordSamplesInput,
} from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { asProblem, settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { Disc, Leaf, Plant } from './sample.entity.js';
import {
  toCrop, toDisc, toLeaf, toPlant, toSampleAmendment, toSampleLoss, type CropView, type DiscView, type LeafView, type PlantView,
} from './sample.mapper.js';
import { countDiscs, cropsByName, discByLabel, discsPage, plantsPage, sampleWords, type DiscSearch } from './sample.repository.js';
import { SampleService } from './sample.service.js';

interface DiscsArgs extends DiscSearch {
  readonly first?: number;
  readonly after?: string;
}

/** Labels of a preview that are told. */
const TOLD = 60;

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
  async plant(@Args('id') id: string, @Context() context: RequestContext): Promise<PlantView | null> {
    const row = await rowById(await context.read(), Plant, id);
    return row && toPlant(row);
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

  @Query()
  async sampleWords(@Context() context: RequestContext): Promise<object> {
    return sampleWords(await context.read());
  }

  @Query()
  async previewSamples(@Args('input') input: RecordSamplesInput, @Context() context: RequestContext): Promise<object> {
    try {
      const { plan, taken } = await this.samples.planSamples(await context.read(), input);
      const told = (planned: readonly { readonly label: string }[]): string[] => planned.slice(0, TOLD).map(({ label }) => label);
      return {
        plants: told(plan.plants), leaves: told(plan.leaves), discs: told(plan.discs), taken: taken.slice(0, TOLD),
        plantCount: plan.plants.length, leafCount: plan.leaves.length, discCount: plan.discs.length,
      };
    } catch (error) {
      const expected = asProblem(error);
      if (!expected) throw error;
      return { plants: [], leaves: [], discs: [], taken: [], plantCount: 0, leafCount: 0, discCount: 0, problem: expected.problem };
    }
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

  @Mutation()
  recordSamples(@Args('input') input: RecordSamplesInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { plants, leaves, discs, replayed } = await context.write((tx) => this.samples.recordSamples(tx, context.member, input));
      return { plants: plants.map(toPlant), leaves: leaves.map(toLeaf), discs: discs.map(toDisc), replayed };
    });
  }

  @Mutation()
  amendSample(@Args('input') input: AmendSampleInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.samples.amend(tx, context.member, input));
      return { sampleAmendment: toSampleAmendment(row), replayed };
    });
  }

  @Mutation()
  recordSampleLoss(@Args('input') input: RecordSampleLossInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const written = await context.write((tx) => this.samples.recordLoss(tx, context.member, input));
      return { sampleLosses: written.map(({ row }) => toSampleLoss(row)), replayed: written.every(({ replayed }) => replayed) };
    });
  }
}
