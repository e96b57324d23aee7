import { Injectable } from '@nestjs/common';
import { Announcer } from '../../platform/database/announcer.js';
import type { Tx } from '../../platform/database/database.js';
import { insertNotices, type Telling } from './notice.repository.js';

/** Tells people of the lab what they should know, in the transaction of what happened. */
@Injectable()
export class Notices {
  constructor(private readonly announcer: Announcer) {}

  /** Tells each person once: again only after the same notice was seen. Their open screens show it when the transaction commits. */
  async tell(tx: Tx, telling: Telling): Promise<void> {
    const people = [...new Set(telling.accountIds)];
    if (people.length === 0) return;
    const [first] = await insertNotices(tx, { ...telling, accountIds: people });
    if (!first) return;
    const { labId } = tx;
    tx.afterCommit(() => this.announcer.announce({ labId, kind: 'notice', id: first, dryingRunId: null }));
  }
}
