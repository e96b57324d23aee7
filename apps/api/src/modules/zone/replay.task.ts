import type { Replay } from '#libs/zone-rule';
import { replayFrom, type ReplaySpan } from './advise.js';
import type { ZoneSeason } from './zone-events.js';
import type { ZoneRule } from './zone.entity.js';

/** A replay, in a thread of its own: see platform/jobs/threads.ts. */
export const run = ({ rule, season, span }: { readonly rule: ZoneRule; readonly season: ZoneSeason; readonly span: ReplaySpan }): Replay => replayFrom(rule, season, span);
