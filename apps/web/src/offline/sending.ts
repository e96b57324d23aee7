import type { Kept } from './store.js';
import type { Answered } from './writes.js';

/** Where the queue lies. */
export interface Shelf {
  readonly all: () => Promise<readonly Kept[]>;
  readonly one: (order: number) => Promise<Kept | undefined>;
  readonly put: (kept: Kept) => Promise<unknown>;
  readonly drop: (order: number) => Promise<unknown>;
}

interface Sending {
  readonly shelf: Shelf;
  /** Of the person and lab signed in here. */
  readonly mine: (kept: Kept) => boolean;
  readonly send: (kept: Kept) => Promise<Answered>;
  readonly onAnswer: (kept: Kept, answer: Answered) => void;
}

/** So often a fault of the server's own is borne before a person is asked; until then nothing overtakes. */
export const MOST_FAULTS = 5;

export const isOpen = (kept: Kept): boolean => !kept.problem && !kept.aside;

/**
 * Sends what waits, in the order of capture, until all is sent or one gets no answer: that one and all after it stay as
 * they are. A refused write is marked and waits for a person; those after it go on.
 */
export async function sendInOrder({ shelf, mine, send, onAnswer }: Sending): Promise<void> {
  let last = -Infinity;
  for (;;) {
    const next = (await shelf.all()).filter((kept) => kept.order > last && mine(kept) && isOpen(kept));
    if (next.length === 0) return;
    for (const [i, listed] of next.entries()) {
      last = listed.order;
      // Another tab may have sent it, or a person set it aside, while the one before was sent.
      const kept = i === 0 ? listed : await shelf.one(listed.order);
      if (!kept || !isOpen(kept)) continue;
      const answer = await send(kept);
      if (!(await settle(shelf, kept, answer))) return;
      onAnswer(kept, answer);
    }
  }
}

/** True where the write is settled and the next may go. */
async function settle(shelf: Shelf, kept: Kept, answer: Answered): Promise<boolean> {
  if (answer.outcome === 'not-sent') return false;
  if (answer.outcome === 'recorded') {
    await shelf.drop(kept.order);
    return true;
  }
  // Without a session it waits here until the same person has signed in again.
  if (answer.problem.code === 'CREDENTIALS') return false;
  const faults = (kept.faults ?? 0) + 1;
  if (answer.fault && faults < MOST_FAULTS) {
    await shelf.put({ ...kept, faults });
    return false;
  }
  await shelf.put({ ...kept, problem: answer.problem, flags: answer.payload?.flags ?? [] });
  return true;
}
