import { createHash } from 'node:crypto';
import { Controller, Get, Param, Req, Res } from '@nestjs/common';
import type { Request, Response } from 'express';
import { calendar } from '#libs/calendar';
import { Database } from '../../platform/database/database.js';
import { accountById, labById, membershipsOf } from '../../platform/identity/account.repository.js';
import { notFound } from '../../platform/errors/problem.js';
import { answering } from '../../platform/http/http.js';
import { feedBehind } from './calendar-feed.repository.js';
import { dueUntil } from './due.repository.js';
import { actsOn, whatOf } from './due-told.js';

/** A calendar shows a month. */
const AHEAD_MS = 31 * 24 * 3_600_000;
const REFRESH_MIN = 15;

export const secretHash = (secret: string): Buffer => createHash('sha256').update(secret).digest();

/** `GET /calendar/<secret>.ics`: what one person may act on in one lab. Whoever has the address can read it: it can be renewed. */
@Controller('calendar')
export class CalendarFeedController {
  constructor(private readonly database: Database) {}

  @Get(':file')
  fetch(@Param('file') file: string, @Req() request: Request, @Res() response: Response): Promise<void> {
    return answering(response, async () => {
      const secret = file.replace(/\.ics$/, '');
      const outside = { labId: null, accountId: null };
      const feed = await this.database.write(outside, (tx) => feedBehind(tx, secretHash(secret)));
      const account = feed && (await this.database.write(outside, (tx) => accountById(tx, feed.accountId)));
      const membership = feed && (await this.database.write({ labId: null, accountId: feed.accountId }, (tx) => membershipsOf(tx, feed.accountId))).find(({ labId }) => labId === feed.labId);
      // A person who left the lab, or whose account is closed, has no feed any more.
      if (!feed || !account || !membership) throw notFound('secret', 'This calendar');
      const now = new Date();
      const origin = `${request.protocol}://${request.headers.host ?? ''}`;
      const read = await this.database.openRead(feed);
      try {
        const lab = await labById(read.tx, feed.labId);
        const actor = { accountId: feed.accountId, displayName: account.displayName, labId: feed.labId, roles: membership.roles, token: null };
        const rows = (await dueUntil(read.tx, now, new Date(now.getTime() + AHEAD_MS))).filter((row) => actsOn(actor, row));
        const text = calendar({
          name: `Due, ${lab?.name ?? ''}`, madeAtMs: now.getTime(), refreshMin: REFRESH_MIN,
          events: rows.map((row) => ({
            uid: `${row.kind.toLowerCase()}-${row.subjectId}@threadleaf`, atMs: row.dueAt.getTime(), summary: whatOf(row), description: `${lab?.name ?? ''}, for ${account.displayName}`, url: `${origin}/due`,
          })),
        });
        response.status(200).set({ 'Content-Type': 'text/calendar; charset=utf-8', 'Content-Disposition': 'inline; filename="due.ics"', 'Cache-Control': 'private, no-cache', 'X-Content-Type-Options': 'nosniff' });
        response.end(text);
      } finally {
        await read.close();
      }
    });
  }
}
