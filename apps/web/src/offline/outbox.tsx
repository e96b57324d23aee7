import { createContext, useCallback, useContext, useEffect, useMemo, useRef, useState } from 'react';
import type { ReactNode } from 'react';
import { usePayload } from '../ui/send.js';
import type { FlagSeen, Sent } from '../ui/send.js';
import { momentNow } from '../ui/time.js';
import { RecordMeterReading, RecordWeighing } from './documents.js';
import { allKept, drop, keep, keepAgain } from './store.js';
import type { BenchWrite, Kept } from './store.js';

type Answered = Sent<{ readonly replayed: boolean; readonly flags?: readonly FlagSeen[] }>;

/** kept: no answer yet, but it is safe on this computer and goes by itself. not-sent: it is neither kept nor sent. */
export type Recording = Answered | { readonly outcome: 'kept' };

export interface Outbox {
  /** This person's writes in this lab that the server has not answered for, in the order of capture. */
  readonly waiting: readonly Kept[];
  /** Keeps a write on this computer, then sends it. Resolves once it is kept and one sending was tried. */
  readonly record: (write: BenchWrite, label: string) => Promise<Recording>;
  /** Sends all that wait, in order. */
  readonly sendAll: () => Promise<void>;
  /** Answers a refused write (for example the flags that ask) and sends it again under its id. */
  readonly answer: (kept: Kept, flagAnswer: string) => Promise<void>;
  /** Takes a refused write out of the outbox, because a person decided so. */
  readonly discard: (kept: Kept) => Promise<void>;
}

const OutboxContext = createContext<Outbox | null>(null);

export function useOutbox(): Outbox {
  const outbox = useContext(OutboxContext);
  if (!outbox) throw new Error('useOutbox is used outside OutboxProvider');
  return outbox;
}

interface OutboxProviderProps {
  readonly labId: string;
  readonly personId: string;
  readonly children: ReactNode;
}

const retryEveryMs = 8_000;

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

/** Bench writes go through here: kept on this computer first, sent in order, exactly once by their ids. */
export function OutboxProvider({ labId, personId, children }: OutboxProviderProps) {
  const send = usePayload();
  const [waiting, setWaiting] = useState<readonly Kept[]>([]);
  const mine = useCallback((kept: Kept) => kept.labId === labId && kept.personId === personId, [labId, personId]);

  const look = useCallback(async () => {
    const all = await allKept().catch(() => []);
    setWaiting(all.filter(mine));
    return all.filter(mine);
  }, [mine]);

  const sendOne = useCallback(async (write: BenchWrite): Promise<Answered> => {
    return write.kind === 'weighing' ? send(RecordWeighing, { input: write.input }) : send(RecordMeterReading, { input: write.input });
  }, [send]);

  /** Writes that a screen waits to hear about; a refusal of any other write stays in the outbox for a person. */
  const asked = useRef(new Map<string, Answered | null>());

  /** Sends in order; stops at the first that gets no answer. */
  const drain = useCallback(() => alone(async () => {
    for (const kept of await look()) {
      if (kept.problem) continue;
      const sent = await sendOne(kept);
      // Without a network or a session the write waits here, and so do those after it.
      if (sent.outcome === 'not-sent' || (sent.outcome === 'refused' && sent.problem.code === 'CREDENTIALS')) break;
      const heard = asked.current.has(kept.input.id);
      if (heard) asked.current.set(kept.input.id, sent);
      if (sent.outcome === 'recorded' || heard) await drop(kept.order);
      else await keepAgain({ ...kept, problem: sent.problem, flags: sent.payload?.flags ?? [] });
    }
    await look();
  }), [look, sendOne]);

  const record = useCallback<Outbox['record']>(async (write, label) => {
    const { id } = write.input;
    try {
      await keep({ ...write, labId, personId, label, keptAt: momentNow() });
    } catch {
      // A browser that keeps nothing (private window, full disk) still sends; the screen holds what was typed.
      return sendOne(write);
    }
    asked.current.set(id, null);
    await drain();
    const answered = asked.current.get(id) ?? null;
    asked.current.delete(id);
    return answered ?? { outcome: 'kept' };
  }, [drain, labId, personId, sendOne]);

  const answer = useCallback<Outbox['answer']>(async (kept, flagAnswer) => {
    if (kept.kind !== 'weighing') return;
    const { problem: _answered, flags: _seen, ...open } = kept;
    await keepAgain({ ...open, input: { ...kept.input, flagAnswer } });
    await drain();
  }, [drain]);

  const discard = useCallback<Outbox['discard']>(async (kept) => {
    await drop(kept.order);
    await look();
  }, [look]);

  useRetry(drain);
  const outbox = useMemo(() => ({ waiting, record, sendAll: drain, answer, discard }), [waiting, record, drain, answer, discard]);
  return <OutboxContext value={outbox}>{children}</OutboxContext>;
}

/** Tries at once, when the network comes back, and every few seconds. */
function useRetry(sendAll: () => Promise<void>): void {
  const latest = useRef(sendAll);
  useEffect(() => {
    latest.current = sendAll;
    void sendAll();
  }, [sendAll]);
  useEffect(() => {
    const again = () => void latest.current();
    const timer = setInterval(again, retryEveryMs);
    window.addEventListener('online', again);
    return () => {
      clearInterval(timer);
      window.removeEventListener('online', again);
    };
  }, []);
}
