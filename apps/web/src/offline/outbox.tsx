import { useApolloClient } from '@apollo/client/react';
import { createContext, useCallback, useContext, useEffect, useMemo, useRef, useState } from 'react';
import type { ReactNode } from 'react';
import { newId } from '../ui/id.js';
import { announceReconnection } from '../ui/live.js';
import type { ProblemSeen } from '../ui/send.js';
import { momentNow } from '../ui/time.js';
import type { Account } from './acting-for.js';
import { changed, look, tellTabs, useQueue } from './queue.js';
import { isLost, onReach } from './reach.js';
import { isOpen, sendInOrder } from './sending.js';
import { allKept, drop, keep, keepAgain, keptAt } from './store.js';
import type { Kept, NewKept } from './store.js';
import { corrected, sendWrite } from './writes.js';
import type { Answered, OfflineWrite } from './writes.js';

/** kept: no answer yet, but it is safe on this device and goes by itself. not-sent: it is neither kept nor sent. */
export type Recording = Answered | { readonly outcome: 'kept' };

/** Writes of one other person or lab that wait on this device. */
export interface OthersKept {
  readonly personName: string;
  readonly labName: string;
  readonly count: number;
}

export interface Outbox {
  /** This person's writes in this lab that the server has not recorded, in the order of capture; without those set aside. */
  readonly waiting: readonly Kept[];
  /** Set aside by this person in this lab. */
  readonly aside: readonly Kept[];
  /** Waiting for somebody else's sign-in, or for another lab. */
  readonly others: readonly OthersKept[];
  /** Refused while the form that made it is still on the screen, which shows the refusal itself. */
  readonly onScreen: ReadonlySet<string>;
  /** Keeps a write on this device, then sends it. Resolves once it is kept and was answered for, or no answer comes soon. */
  readonly record: (write: OfflineWrite, label: string) => Promise<Recording>;
  /** Sends all that wait, in order. */
  readonly sendAll: () => Promise<void>;
  /** Sends a refused write anew in its place, with texts corrected or answered; under a new id where the old one is taken. */
  readonly sendAnew: (kept: Kept, texts: Readonly<Record<string, string>>) => Promise<void>;
  /** Takes a refused write out of the order, because a person decided so; it stays on this device. */
  readonly setAside: (kept: Kept, reason: string) => Promise<void>;
  readonly takeBack: (kept: Kept) => Promise<void>;
  /** After a person has written these to a file. */
  readonly saved: (those: readonly Kept[]) => Promise<void>;
  /** Only for one set aside that a file holds. */
  readonly remove: (kept: Kept) => Promise<void>;
  readonly holdOnScreen: (id: string) => () => void;
}

export const OutboxContext = createContext<Outbox | null>(null);

export function useOutbox(): Outbox {
  const outbox = useContext(OutboxContext);
  if (!outbox) throw new Error('useOutbox is used outside OutboxProvider');
  return outbox;
}

/** For a form that shows the refusal of what it records: while it stands, the queue does not show it too. */
export function useOnScreen(id: string): void {
  const { holdOnScreen } = useOutbox();
  useEffect(() => holdOnScreen(id), [holdOnScreen, id]);
}

interface OutboxProviderProps extends Account {
  readonly labName?: string;
  readonly personName?: string;
  readonly children: ReactNode;
}

const retryEveryMs = 8_000;
/** An answer that takes longer must not hold up the hand: the write is kept, and its answer is told in the queue. Shorter where none is likely soon. */
const patienceMs = 3_000;
const shortPatienceMs = 400;

const shelf = { all: allKept, one: keptAt, put: keepAgain, drop };

let last: Promise<unknown> = Promise.resolve();

/**
 * One sending at a time, so that the order is kept: within this tab by a chain of promises, among the tabs of one browser
 * by a lock, which browsers give to addresses they call secure only.
 */
function alone<T>(act: () => Promise<T>): Promise<T> {
  const locked = () => ('locks' in navigator ? (navigator.locks.request('threadleaf-outbox', act) as Promise<T>) : act());
  const turn = last.then(locked, locked);
  last = turn.catch(() => undefined);
  return turn;
}

const pause = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

/** Takes the refusal off, so that it is sent anew in its place. */
function reopened(kept: Kept): Kept {
  const { problem: _problem, flags: _flags, faults: _faults, aside: _aside, ...open } = kept;
  return open as Kept;
}

/** Writes that cannot wait for the network go through here: kept on this device first, sent in order, exactly once by their ids. */
export function OutboxProvider({ labId, personId, labName = '', personName = '', children }: OutboxProviderProps) {
  const client = useApolloClient();
  const queue = useQueue();
  const mine = useCallback((kept: Kept) => kept.labId === labId && kept.personId === personId, [labId, personId]);
  /** Writes that a screen waits to hear about. */
  const asked = useRef(new Map<string, (answer: Answered) => void>());
  const { onScreen, holdOnScreen } = useHeld();

  const drain = useCallback(() => alone(async () => {
    await sendInOrder({
      shelf, mine,
      send: async (kept) => {
        const answer = await sendWrite(client, kept, kept);
        // Once the server has it, whoever waits need not wait until it is off the shelf too.
        if (answer.outcome === 'recorded') asked.current.get(kept.input.id)?.(answer);
        return answer;
      },
      onAnswer: (kept, answer) => {
        asked.current.get(kept.input.id)?.(answer);
        void changed();
      },
    }).catch(() => undefined);
    await look();
  }), [client, mine]);

  const record = useCallback<Outbox['record']>(async (write, label) => {
    const { id } = write.input;
    let behindOthers = false;
    try {
      const own = (await allKept()).filter(mine);
      behindOthers = own.some(isOpen);
      const before = own.find((kept) => kept.input.id === id);
      const kept = { ...write, labId, personId, labName, personName, label, keptAt: before?.keptAt ?? momentNow() } as NewKept;
      await (before ? keepAgain({ ...kept, order: before.order } as Kept) : keep(kept));
    } catch {
      // A browser that keeps nothing (private window, full disk) still sends; the screen holds what was typed.
      return sendWrite(client, write, { labId, personId });
    }
    void navigator.storage?.persist?.().catch(() => undefined);
    // This page looks only once somebody is told that it is kept: most are recorded before, and need not be drawn as waiting.
    tellTabs();
    const answer = new Promise<Answered>((resolve) => asked.current.set(id, resolve));
    const kept = () => ({ outcome: 'kept' }) as const;
    return Promise.race([answer, drain().then(kept), pause(isLost() || behindOthers ? shortPatienceMs : patienceMs).then(look).then(kept)]).finally(() => asked.current.delete(id));
  }, [client, drain, labId, labName, mine, personId, personName]);

  const acts = useActs(drain);
  useRetry(drain);
  const outbox = useMemo((): Outbox => ({
    waiting: queue.filter((kept) => mine(kept) && !kept.aside),
    aside: queue.filter((kept) => mine(kept) && kept.aside),
    others: othersIn(queue.filter((kept) => !mine(kept) && !kept.aside)),
    onScreen, holdOnScreen, record, sendAll: drain, ...acts,
  }), [queue, mine, onScreen, holdOnScreen, record, drain, acts]);
  return <OutboxContext value={outbox}>{children}</OutboxContext>;
}

/** How many wait for whom, without what they say. */
export function othersIn(queue: readonly Kept[]): readonly OthersKept[] {
  const counts = new Map<string, OthersKept>();
  for (const { personId, labId, personName, labName } of queue) {
    const key = `${personId} ${labId}`;
    counts.set(key, { personName: personName || 'somebody else', labName: labName || 'another lab', count: (counts.get(key)?.count ?? 0) + 1 });
  }
  return [...counts.values()];
}

/** The ids whose forms are on the screen. */
function useHeld(): Pick<Outbox, 'onScreen' | 'holdOnScreen'> {
  const [onScreen, setOnScreen] = useState<ReadonlySet<string>>(new Set());
  const holdOnScreen = useCallback((id: string) => {
    setOnScreen((before) => new Set([...before, id]));
    return () => setOnScreen((before) => new Set([...before].filter((each) => each !== id)));
  }, []);
  return { onScreen, holdOnScreen };
}

const taken = ({ code }: ProblemSeen): boolean => code === 'REPLAY_MISMATCH';

/** What a person does with single writes of the queue. */
function useActs(drain: () => Promise<void>): Pick<Outbox, 'sendAnew' | 'setAside' | 'takeBack' | 'saved' | 'remove'> {
  return useMemo(() => {
    const put = async (kept: Kept) => {
      await keepAgain(kept);
      await changed();
    };
    return {
      sendAnew: async (kept, texts) => {
        // What was refused falls off last: a write that still bears its problem is not sent.
        await put(reopened(corrected(kept, kept.problem && taken(kept.problem) ? { ...texts, id: newId() } : texts) as Kept));
        await drain();
      },
      setAside: (kept, reason) => put({ ...kept, aside: { reason, at: momentNow() } }),
      takeBack: async (kept) => {
        await put(reopened(kept));
        await drain();
      },
      saved: async (those) => {
        for (const kept of those) await keepAgain({ ...kept, savedAt: momentNow() });
        await changed();
      },
      remove: async (kept) => {
        await drop(kept.order);
        await changed();
      },
    };
  }, [drain]);
}

/** Tries at once, when the network comes back, when the server answers again, and every few seconds while something waits. */
function useRetry(sendAll: () => Promise<void>): void {
  const latest = useRef(sendAll);
  useEffect(() => {
    latest.current = sendAll;
    void sendAll();
  }, [sendAll]);
  useEffect(() => {
    const again = () => void latest.current();
    const timer = setInterval(() => void allKept().then((all) => (all.some(isOpen) ? latest.current() : undefined), () => undefined), retryEveryMs);
    const stopHearing = onReach(() => {
      if (isLost()) return;
      again();
      announceReconnection();
    });
    window.addEventListener('online', again);
    return () => {
      clearInterval(timer);
      stopHearing();
      window.removeEventListener('online', again);
    };
  }, []);
}
