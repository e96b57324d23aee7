import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { staleAmong } from '../amendment/amendment.repository.js';
import { labelsOf, type RecordKey } from '../thread/thread.repository.js';
import type { Touched } from './fault.repository.js';
import { FaultService, type CorrectionAsked, type FaultQuestion } from './fault.service.js';

const FACTS_TOLD = 500;

interface TouchedView extends RecordKey {
  readonly label: string;
  readonly restsOn: number;
  readonly stale: boolean;
}

@Resolver()
export class FaultResolver {
  constructor(private readonly faults: FaultService) {}

  @Query()
  async touchedBy(@Args() question: FaultQuestion, @Context() context: RequestContext): Promise<object> {
    const tx = await context.read();
    const { facts, touched, truncated } = await this.faults.reachOf(tx, question);
    const told = facts.slice(0, FACTS_TOLD);
    const labels = await labelsOf(tx, told);
    return {
      factCount: facts.length,
      facts: told.map(({ kind, id }) => ({ kind, id, label: labels.get(id) ?? id })),
      touched: await viewsOf(tx, touched),
      truncated,
    };
  }

  @Query()
  async faultMoves(@Args() question: FaultQuestion & CorrectionAsked, @Context() context: RequestContext): Promise<object> {
    const tx = await context.read();
    const { reach, corrected, moved } = await this.faults.movesOf(tx, question, question);
    const views = await viewsOf(tx, moved.map(({ record }) => record));
    return {
      factCount: reach.facts.length,
      codeVersion,
      corrected,
      truncated: reach.truncated,
      moved: moved.map(({ values, withoutRefused, correctedRefused }, i) => ({ ...views[i], values, withoutRefused, correctedRefused })),
    };
  }
}

async function viewsOf(tx: Tx, touched: readonly Touched[]): Promise<TouchedView[]> {
  const labels = await labelsOf(tx, touched);
  const stale = await staleAmong(tx, touched.map(({ id }) => id));
  return touched.map(({ kind, id, restsOn }) => ({ kind, id, label: labels.get(id) ?? id, restsOn, stale: stale.has(id) }));
}
