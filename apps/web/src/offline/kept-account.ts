import { momentNow } from '../ui/time.js';
import { actingText } from './acting-for.js';
import type { Account } from './acting-for.js';
import { readStored, storeRead, wipeReadsExcept } from './store.js';

/** Who was signed in here last, so that a page can open without the server. */
const KEY = 'account';

/** A browser that keeps nothing has nobody to go on with; that is no reason to fail. */
const orNothing = <T>(kept: Promise<T>): Promise<T | undefined> => kept.catch(() => undefined);

/** Keeps who is signed in, and wipes what was read for anybody else. */
export async function keepAccount(me: object, account: Account): Promise<void> {
  const text = actingText(account);
  await orNothing(wipeReadsExcept(text));
  await orNothing(storeRead({ key: KEY, account: text, data: me, asOf: momentNow() }));
}

/** Nobody is signed in: nothing that was read stays. */
export const wipeAccounts = async (): Promise<void> => void (await orNothing(wipeReadsExcept(null)));

export const keptAccount = async <Me extends object>(): Promise<Me | null> => ((await orNothing(readStored(KEY)))?.data as Me | undefined) ?? null;

/** A sign-out without the server: the session is ended there before anybody goes on with it. */
const OWED = 'threadleaf.signOutOwed';
export const leaveOwed = (): boolean => localStorage.getItem(OWED) !== null;
export const oweLeaving = (owed: boolean): void => (owed ? localStorage.setItem(OWED, 'yes') : localStorage.removeItem(OWED));
