import { Args, Context, Mutation, Query, Resolver } from '@nestjs/graphql';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { labelsOf } from '../thread/thread.repository.js';
import { markSeen, noticesOf } from './notice.repository.js';

@Resolver()
export class NoticeResolver {
  @Query()
  async notices(@Args('seen') seen: boolean, @Context() context: RequestContext): Promise<object[]> {
    const tx = await context.read();
    const rows = await noticesOf(tx, context.member, seen);
    const subjects = rows.map(({ subjectKind: kind, subjectId: id }) => ({ kind, id }));
    const labels = await labelsOf(tx, subjects);
    return rows.map(({ id, kind, text, toldAt, seenAt }, index) => ({
      id,
      kind,
      text,
      subject: { ...subjects[index]!, label: labels.get(subjects[index]!.id) ?? subjects[index]!.id },
      toldAt: formatMoment(toldAt),
      seenAt: seenAt ? formatMoment(seenAt) : null,
    }));
  }

  @Mutation()
  async markNoticeSeen(@Args('ids') ids: string[], @Context() context: RequestContext): Promise<object> {
    return { marked: await context.write((tx) => markSeen(tx, context.member, ids)) };
  }
}
