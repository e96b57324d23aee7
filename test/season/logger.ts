import { createStream } from '#libs/numeric';
import type { ApiClient } from '../../apps/cli/src/client.js';
import type { EventWriter, LoggedEvent } from '../../apps/cli/src/demo/write-events.js';

interface Payload {
  readonly replayed: boolean;
  readonly problem: { readonly code: string; readonly field: string | null } | null;
}

export interface Delivery {
  /** Entries kept for the first time, entries known already, and the fields at which others were refused. */
  kept: number;
  replayed: number;
  refused: Record<string, number>;
}

const BULK = {
  trip: 'mutation ($inputs: [RecordTripInput!]!) { answers: recordTrips(inputs: $inputs) { replayed problem { code field } } }',
  'field-report': 'mutation ($inputs: [RecordFieldReportInput!]!) { answers: recordFieldReports(inputs: $inputs) { replayed problem { code field } } }',
} as const;

/**
 * A logger as loggers are: it sends by the day and in no order, a fifth of it a day late, every batch again because the
 * answer was lost, and among it what can be no truth.
 */
export async function deliver(client: ApiClient, writer: EventWriter, events: readonly LoggedEvent[], newId: () => string): Promise<Delivery> {
  const stream = createStream('logger', 0);
  const delivery: Delivery = { kept: 0, replayed: 0, refused: {} };
  const days = [...new Set(events.map(({ at }) => at.slice(0, 10)))];
  let late: LoggedEvent[] = [];
  for (const day of [...days, 'the day after']) {
    const ofDay = events.filter(({ at }) => at.startsWith(day));
    const [now, held] = [ofDay.filter((_, i) => i % 5 !== 4), ofDay.filter((_, i) => i % 5 === 4)];
    const batch = [...late, ...now].map((event) => ({ event, order: stream.uniform() })).sort((a, b) => a.order - b.order).map(({ event }) => event);
    late = held;
    for (const kind of ['trip', 'field-report'] as const) {
      const good = batch.filter((event) => event.kind === kind).map((event) => writer.logged(event));
      if (good.length === 0) continue;
      // The answer to the first sending is lost on the way: all of it comes again, with an entry that tells another story under a known id.
      await post(client, kind, [...good, ...untrue(kind, good, newId)], delivery);
      await post(client, kind, [...good, { ...good[0], rawLine: 'another line' }], delivery);
    }
  }
  return delivery;
}

/** What can be no truth: each is refused at the field that is wrong, and takes nothing from its neighbours. */
function untrue(kind: LoggedEvent['kind'], [good]: readonly object[], newId: () => string): object[] {
  const moment = kind === 'trip' ? 'seenAt' : 'observedAt';
  return [
    { ...good, id: newId(), installationId: newId() },
    { ...good, id: newId(), [moment]: '2001-01-01T00:00:00Z', ...(kind === 'trip' && { trippedAt: null }) },
    { ...good, id: newId(), [moment]: new Date(Date.now() + 3 * 3_600_000).toISOString(), ...(kind === 'trip' && { trippedAt: null }) },
    { ...good, id: newId(), lightPowerNw: '-5' },
    { ...good, id: newId(), lightPowerNw: 'much' },
    ...(kind === 'trip' ? [{ ...good, id: newId(), trippedAt: new Date().toISOString() }] : []),
  ];
}

async function post(client: ApiClient, kind: LoggedEvent['kind'], inputs: readonly object[], delivery: Delivery): Promise<void> {
  const { answers } = await client.ask<{ answers: Payload[] }>(BULK[kind], { inputs });
  for (const { replayed, problem } of answers) {
    if (problem) delivery.refused[`${kind} ${problem.field}`] = (delivery.refused[`${kind} ${problem.field}`] ?? 0) + 1;
    else if (replayed) delivery.replayed += 1;
    else delivery.kept += 1;
  }
}
