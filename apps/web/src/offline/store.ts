import type { FlagSeen, ProblemSeen } from '../ui/send.js';
import type { OfflineWrite } from './writes.js';

/** A write on this device that the server has not recorded yet. */
export type Kept = OfflineWrite & {
  /** Key in the order of capture. */
  readonly order: number;
  readonly labId: string;
  readonly labName: string;
  /** Whose hand it was: nobody else's session may send it. */
  readonly personId: string;
  readonly personName: string;
  /** What a person calls it: "R-12.3, drying, 60.32 mg". */
  readonly label: string;
  readonly keptAt: string;
  /** Set once the server refused it; it then waits for a person. */
  readonly problem?: ProblemSeen;
  readonly flags?: readonly FlagSeen[];
  /** How often the server failed on it by a fault of its own. */
  readonly faults?: number;
  /** Taken out of the order by a person, with the reason; it stays here. */
  readonly aside?: { readonly reason: string; readonly at: string };
  /** When it was last written to a file by a person. */
  readonly savedAt?: string;
};

export type NewKept = Kept extends infer K ? (K extends Kept ? Omit<K, 'order'> : never) : never;

/** An answer of the server as last read, for one person in one lab. */
export interface StoredRead {
  /** Account, operation and variables. */
  readonly key: string;
  readonly account: string;
  readonly data: unknown;
  readonly asOf: string;
}

const NAME = 'threadleaf';
const VERSION = 2;
const OUTBOX = 'outbox';
const READS = 'reads';

let opening: Promise<IDBDatabase> | null = null;

function open(): Promise<IDBDatabase> {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      const { result: database } = request;
      if (!database.objectStoreNames.contains(OUTBOX)) database.createObjectStore(OUTBOX, { keyPath: 'order', autoIncrement: true });
      if (!database.objectStoreNames.contains(READS)) database.createObjectStore(READS, { keyPath: 'key' });
    };
    request.onsuccess = () => {
      // A newer page in another tab must be able to widen the database.
      request.result.onversionchange = () => {
        request.result.close();
        opening = null;
      };
      resolve(request.result);
    };
    request.onerror = () => {
      opening = null;
      reject(request.error ?? new Error('The browser gave no IndexedDB.'));
    };
  });
  return opening;
}

/** strict: on the disk itself before it resolves, so that a power cut takes nothing that a person was told is kept. */
async function inStore<T>(name: string, mode: IDBTransactionMode, act: (store: IDBObjectStore) => IDBRequest<T>, durability: IDBTransactionDurability = 'relaxed'): Promise<T> {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(name, mode, { durability });
    const request = act(transaction.objectStore(name));
    // Resolving on complete, not on success: only then is it on the disk.
    transaction.oncomplete = () => resolve(request.result);
    transaction.onabort = () => reject(transaction.error ?? new Error('The browser did not keep it.'));
  });
}

export const keep = (write: NewKept): Promise<IDBValidKey> => inStore(OUTBOX, 'readwrite', (store) => store.add(write), 'strict');
export const keepAgain = (kept: Kept): Promise<IDBValidKey> => inStore(OUTBOX, 'readwrite', (store) => store.put(kept), 'strict');
/** What comes back after a power cut is sent once more, under the same id. */
export const drop = (order: number): Promise<undefined> => inStore(OUTBOX, 'readwrite', (store) => store.delete(order));
/** As it stands on the disk now; undefined once it is sent. */
export const keptAt = (order: number): Promise<Kept | undefined> => inStore(OUTBOX, 'readonly', (store) => store.get(order) as IDBRequest<Kept | undefined>);
/** All that is kept, in the order of capture. */
export const allKept = (): Promise<Kept[]> => inStore(OUTBOX, 'readonly', (store) => store.getAll() as IDBRequest<Kept[]>);

export const storeRead = (read: StoredRead): Promise<IDBValidKey> => inStore(READS, 'readwrite', (store) => store.put(read));
export const readStored = (key: string): Promise<StoredRead | undefined> => inStore(READS, 'readonly', (store) => store.get(key) as IDBRequest<StoredRead | undefined>);
const allReads = (): Promise<StoredRead[]> => inStore(READS, 'readonly', (store) => store.getAll() as IDBRequest<StoredRead[]>);
const dropRead = (key: string): Promise<undefined> => inStore(READS, 'readwrite', (store) => store.delete(key));

/** Wipes what was read for anybody but this account; null wipes all. What was captured is never touched. */
export async function wipeReadsExcept(account: string | null): Promise<void> {
  for (const read of await allReads()) if (read.account !== account) await dropRead(read.key);
}
