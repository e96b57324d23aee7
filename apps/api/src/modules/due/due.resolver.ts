import { randomBytes } from 'node:crypto';
import { Args, Context, Mutation, Query, Resolver } from '@nestjs/graphql';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment, parseMoment } from '../../platform/graphql/moment.js';
import { secretHash } from './calendar-feed.controller.js';
import { feedMadeAt, removeFeed, replaceFeed } from './calendar-feed.repository.js';
import { dueUntil } from './due.repository.js';
import { actsOn, rolesOf, whatOf } from './due-told.js';

/** How far ahead the board looks when nobody says. */
const AHEAD_MS = 7 * 24 * 3_600_000;

@Resolver()
export class DueResolver {
  @Query()
  async due(@Args() { until, mine }: { until?: string; mine?: boolean }, @Context() context: RequestContext): Promise<object[]> {
    const end = until ? parseMoment('until', until).at : new Date(context.now.getTime() + AHEAD_MS);
    const rows = await dueUntil(await context.read(), context.now, end);
    return rows.filter((row) => !mine || actsOn(context.member, row)).map((row) => ({
      kind: row.kind,
      what: whatOf(row),
      dueAt: formatMoment(row.dueAt),
      subject: { kind: row.subjectKind, id: row.subjectId, label: row.label },
      roles: rolesOf(row),
      mine: actsOn(context.member, row),
    }));
  }

  @Query()
  async calendarFeedMadeAt(@Context() context: RequestContext): Promise<string | null> {
    const madeAt = await feedMadeAt(await context.read(), context.member.accountId);
    return madeAt && formatMoment(madeAt);
  }

  @Mutation()
  async renewCalendarFeed(@Context() context: RequestContext): Promise<object> {
    const secret = randomBytes(24).toString('base64url');
    const madeAt = await context.write((tx) => replaceFeed(tx, context.member.accountId, secretHash(secret)));
    return { path: `/calendar/${secret}.ics`, madeAt: formatMoment(madeAt) };
  }

  @Mutation()
  async endCalendarFeed(@Context() context: RequestContext): Promise<object> {
    await context.write((tx) => removeFeed(tx, context.member.accountId));
    return { path: null, madeAt: null };
  }
}
