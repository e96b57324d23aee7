import { Args, Context, Mutation, Query, Resolver } from '@nestjs/graphql';
import { codeOf } from '#libs/label';
import type { PrintLabelsInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { LabelPrint } from './label.entity.js';
import { toLabelPrint, type LabelPrintView } from './label.mapper.js';
import { labelPrintsOf, printCounts } from './label.repository.js';
import { LabelService } from './label.service.js';

@Resolver()
export class LabelResolver {
  constructor(private readonly labels: LabelService) {}

  @Query()
  async scan(@Args('text') text: string, @Context() context: RequestContext): Promise<object> {
    const { found, misread } = await this.labels.scan(await context.read(), text);
    return { misread, found: found.map((each) => ({ ...each, code: codeOf(each.id) })) };
  }

  @Query()
  async labelPrints(@Args() { first, subjectId }: { first: number; subjectId?: string }, @Context() context: RequestContext): Promise<LabelPrintView[]> {
    return (await labelPrintsOf(await context.read(), first, subjectId ?? null)).map(toLabelPrint);
  }

  @Query()
  async labelPrint(@Args('id') id: string, @Context() context: RequestContext): Promise<LabelPrintView | null> {
    const row = await rowById(await context.read(), LabelPrint, id);
    return row && toLabelPrint(row);
  }

  @Query()
  async labelPrintCounts(@Args('subjectIds') subjectIds: string[], @Context() context: RequestContext): Promise<number[]> {
    const counts = await printCounts(await context.read(), subjectIds);
    return subjectIds.map((id) => counts.get(id) ?? 0);
  }

  @Mutation()
  printLabels(@Args('input') input: PrintLabelsInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.labels.print(tx, context.member, input));
      return { labelPrint: toLabelPrint(row), replayed };
    });
  }
}
