import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { personOf } from '../../platform/graphql/graphql.options.js';
import { jobById, jobsPage, type JobState } from '../../platform/jobs/job.repository.js';
import { Jobs } from '../../platform/jobs/jobs.js';
import { labelsOf, type RecordKey } from '../thread/thread.repository.js';
import { toJob } from './job.mapper.js';

@Resolver('Job')
export class JobResolver {
  constructor(private readonly jobs: Jobs) {}

  @Query()
  async job(@Args('id') id: string, @Context() context: RequestContext): Promise<object | null> {
    const row = await jobById(await context.read(), id);
    return row && toJob(row);
  }

  @Query('jobs')
  async jobList(@Args() { states, ...page }: { states: JobState[]; first: number; after?: string }, @Context() context: RequestContext): Promise<object> {
    const { nodes, pageInfo } = await jobsPage(await context.read(), page, states);
    return { nodes: nodes.map(toJob), pageInfo };
  }

  @Mutation()
  cancelJob(@Args('id') id: string, @Context() context: RequestContext): Promise<object> {
    return settle(async () => ({ job: toJob(await context.write((tx) => this.jobs.cancel(tx, context.member, id))), replayed: false }));
  }

  @Mutation()
  retryJob(@Args('id') id: string, @Context() context: RequestContext): Promise<object> {
    return settle(async () => ({ job: toJob(await context.write((tx) => this.jobs.retry(tx, context.member, id))), replayed: false }));
  }

  @ResolveField()
  startedBy(@Parent() { startedById }: { startedById: string | null }, @Context() context: RequestContext): Promise<object> | null {
    return startedById ? personOf(context, startedById) : null;
  }

  @ResolveField()
  result(@Parent() { resultRef }: { resultRef: RecordKey | null }, @Context() context: RequestContext): Promise<object> | null {
    if (!resultRef) return null;
    return context.load.batch('label', `${resultRef.kind} ${resultRef.id}`, async (tx, keys) => {
      const records = keys.map((key) => ({ kind: key.split(' ')[0]!, id: key.split(' ')[1]! }));
      const labels = await labelsOf(tx, records);
      return records.map((record) => ({ ...record, label: labels.get(record.id) ?? record.id }));
    });
  }
}
