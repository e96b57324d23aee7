import { MOST_FAULTS, sendInOrder } from '../src/offline/sending.js';
import type { Shelf } from '../src/offline/sending.js';
import type { Kept } from '../src/offline/store.js';
import type { Answered } from '../src/offline/writes.js';

const recorded: Answered = { outcome: 'recorded', payload: { flags: [] } };
const lost: Answered = { outcome: 'not-sent', message: 'No answer.' };
const refused = (code: 'INPUT' | 'CREDENTIALS', fault = false): Answered => ({ outcome: 'refused', problem: { code, message: 'No.', remedy: 'Mend it.' }, payload: null, fault });

const kept = (order: number, more: object = {}): Kept => ({
  kind: 'trip', order, labId: 'lab', labName: 'Lab', personId: 'ada', personName: 'Ada', label: `write ${order}`, keptAt: '2026-06-03T09:00:00.000Z',
  input: { id: `id ${order}`, installationId: 'i', seenAt: '2026-06-03T09:00:00.000Z', source: 'PERSON' }, ...more,
} as Kept);

function shelfOf(...those: readonly Kept[]): Shelf & { readonly now: () => readonly Kept[] } {
  const rows = new Map(those.map((each) => [each.order, each]));
  const now = () => [...rows.values()].sort((a, b) => a.order - b.order);
  return {
    now,
    all: async () => now(),
    one: async (order) => rows.get(order),
    put: async (each) => rows.set(each.order, each),
    drop: async (order) => rows.delete(order),
  };
}

/** Sends with these answers by order; whatever has none is recorded. */
async function sendAll(shelf: Shelf, answers: Readonly<Record<number, Answered>> = {}, person = 'ada'): Promise<readonly number[]> {
  const sent: number[] = [];
  await sendInOrder({
    shelf,
    mine: ({ personId }) => personId === person,
    send: async ({ order }) => {
      sent.push(order);
      return answers[order] ?? recorded;
    },
    onAnswer: () => undefined,
  });
  return sent;
}

describe('what waits', () => {
  it('goes in the order of capture, and leaves the device only when it is recorded', async () => {
    const shelf = shelfOf(kept(3), kept(1), kept(2));
    expect(await sendAll(shelf, { 3: lost })).toEqual([1, 2, 3]);
    expect(shelf.now().map(({ order }) => order)).toEqual([3]);
  });

  it('stops at the first that gets no answer: nothing overtakes it', async () => {
    const shelf = shelfOf(kept(1), kept(2), kept(3));
    expect(await sendAll(shelf, { 2: lost })).toEqual([1, 2]);
    expect(shelf.now().map(({ order }) => order)).toEqual([2, 3]);
    expect(await sendAll(shelf)).toEqual([2, 3]);
    expect(shelf.now()).toEqual([]);
  });

  it('takes along what is captured while it is sent', async () => {
    const shelf = shelfOf(kept(1));
    const sent: number[] = [];
    await sendInOrder({
      shelf, mine: () => true, onAnswer: () => undefined,
      send: async ({ order }) => {
        sent.push(order);
        if (order === 1) await shelf.put(kept(2));
        return recorded;
      },
    });
    expect(sent).toEqual([1, 2]);
  });

  it('leaves alone what another tab sent or a person set aside meanwhile', async () => {
    const shelf = shelfOf(kept(1), kept(2), kept(3));
    const sent: number[] = [];
    await sendInOrder({
      shelf, mine: () => true, onAnswer: () => undefined,
      send: async ({ order }) => {
        sent.push(order);
        await shelf.drop(2);
        await shelf.put(kept(3, { aside: { reason: 'Wrong leaf', at: '2026-06-03T09:01:00.000Z' } }));
        return recorded;
      },
    });
    expect(sent).toEqual([1]);
    expect(shelf.now().map(({ order }) => order)).toEqual([3]);
  });

  it('of another person or lab is never sent', async () => {
    const shelf = shelfOf(kept(1), kept(2, { personId: 'bea' }));
    expect(await sendAll(shelf)).toEqual([1]);
    expect(shelf.now().map(({ personId }) => personId)).toEqual(['bea']);
  });
});

describe('what is refused', () => {
  it('stays with what the server said, and the others go on', async () => {
    const shelf = shelfOf(kept(1), kept(2));
    expect(await sendAll(shelf, { 1: refused('INPUT') })).toEqual([1, 2]);
    expect(shelf.now()).toMatchObject([{ order: 1, problem: { message: 'No.' } }]);
    expect(await sendAll(shelf)).toEqual([]);
  });

  it('for want of a session waits as it is, with all after it', async () => {
    const shelf = shelfOf(kept(1), kept(2));
    expect(await sendAll(shelf, { 1: refused('CREDENTIALS') })).toEqual([1]);
    expect(shelf.now().map((each) => each.problem)).toEqual([undefined, undefined]);
  });

  it('by a fault of the server is tried again, and shown to a person after five times', async () => {
    const shelf = shelfOf(kept(1), kept(2));
    for (let i = 1; i < MOST_FAULTS; i += 1) expect(await sendAll(shelf, { 1: refused('INPUT', true) })).toEqual([1]);
    expect(shelf.now()).toMatchObject([{ order: 1, faults: MOST_FAULTS - 1 }, { order: 2 }]);
    expect(await sendAll(shelf, { 1: refused('INPUT', true) })).toEqual([1, 2]);
    expect(shelf.now()).toMatchObject([{ order: 1, problem: { message: 'No.' } }]);
  });
});
