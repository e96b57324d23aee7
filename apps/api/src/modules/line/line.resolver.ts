import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver, Subscription } from '@nestjs/graphql';
import type { HearLineInput, SetLineFormatInput } from '../../generated/schema.js';
import { Announcer } from '../../platform/database/announcer.js';
import { Database } from '../../platform/database/database.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import type { InstrumentView } from '../instrument/instrument.mapper.js';
import { toHeardLine, toLineFormat, type LineFormatView } from './line.mapper.js';
import { heardLine, newestFormats, newestHeard } from './line.repository.js';
import { HEARD, LineService } from './line.service.js';

@Resolver()
export class LineResolver {
  constructor(
    private readonly service: LineService,
    private readonly announcer: Announcer,
    private readonly database: Database,
  ) {}

  @Query()
  async heardLines(@Args() { instrumentId, first }: { instrumentId: string; first: number }, @Context() context: RequestContext): Promise<object[]> {
    return (await newestHeard(await context.read(), instrumentId, first)).map(toHeardLine);
  }

  @Mutation()
  setLineFormat(@Args('input') input: SetLineFormatInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.setFormat(tx, context.member, input as Required<SetLineFormatInput>));
      return { lineFormat: toLineFormat(row), replayed };
    });
  }

  @Mutation()
  hearLine(@Args('input') input: HearLineInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.hear(tx, context.member, input));
      return { heardLine: toHeardLine(row), replayed };
    });
  }

  @Subscription('lineHeard', { resolve: (line: object) => line })
  lineHeard(@Args('instrumentId') instrumentId: string, @Context() context: RequestContext): AsyncIterableIterator<object> {
    const { labId, accountId } = context.member;
    const news = this.announcer.listen(labId, [HEARD]);
    return {
      next: async () => {
        for (;;) {
          const { value, done } = await news.next();
          if (done) return { value: undefined, done: true };
          const row = await this.database.write({ labId, accountId }, (tx) => heardLine(tx, value.id));
          if (row?.instrumentId === instrumentId) return { value: toHeardLine(row), done: false };
        }
      },
      return: async () => {
        await news.return?.();
        return { value: undefined, done: true };
      },
      [Symbol.asyncIterator]() { return this; },
    };
  }
}

@Resolver('Instrument')
export class InstrumentLineResolver {
  @ResolveField()
  lineFormat(@Parent() { id }: InstrumentView, @Context() context: RequestContext): Promise<LineFormatView | null> {
    return context.load.batch('line format', id, async (tx, ids) => {
      const formats = new Map((await newestFormats(tx, ids)).map((row) => [row.instrumentId, toLineFormat(row)]));
      return ids.map((wanted) => formats.get(wanted) ?? null);
    });
  }
}
