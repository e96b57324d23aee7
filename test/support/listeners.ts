import { Announcer } from '../../apps/api/src/platform/database/announcer.js';
import { until } from './until.js';

/** What a subscription asks to hear of: whatever is recorded in the lab, or the lines that its instruments say. */
type News = 'records' | 'lines';

const begun: Record<News, number> = { records: 0, lines: 0 };

const { listen } = Announcer.prototype;
Announcer.prototype.listen = function (this: Announcer, labId, kinds) {
  begun[kinds?.includes('heard_line') ? 'lines' : 'records'] += 1;
  return listen.call(this, labId, kinds);
};

/**
 * Waits until `more` subscriptions have begun since it was made, as the server of this test process knows: what comes from then on
 * reaches them, and what came before does not. A page or program has asked long before that.
 *
 *     const listening = listeners('lines');   // before the page opens its form
 *     await listening();
 */
export function listeners(news: News): (more?: number) => Promise<unknown> {
  const before = begun[news];
  return (more = 1) => until(`${more} more listened to ${news}`, () => begun[news] >= before + more);
}
