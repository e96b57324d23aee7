import type { RecordMeterReadingInput, RecordWeighingInput } from '../generated/graphql.js';
import type { FlagSeen, ProblemSeen } from '../ui/send.js';

/** A write of the bench, kept on this computer until the server has answered for it. */
export type BenchWrite =
  | { readonly kind: 'weighing'; readonly input: RecordWeighingInput }
  | { readonly kind: 'meterReading'; readonly input: RecordMeterReadingInput };

export type Kept = BenchWrite & {
  /** Key in the order of capture. */
  readonly order: number;
  readonly labId: string;
  /** Whose hand it was: nobody else's session may send it. */
  readonly personId: string;
  /** What a person calls it: "R-12.3, drying, 60.32 mg". */
  readonly label: string;
  readonly keptAt: string;
  /** Set once the server refused it; it then waits for a person. */
  readonly problem?: ProblemSeen;
  readonly flags?: readonly FlagSeen[];
};

type NewKept = Kept extends infer K ? (K extends Kept ? Omit<K, 'order'> : never) : never;

const NAME = 'threadleaf';
const STORE = 'outbox';

let opening: Promise<IDBDatabase> | null = null;

function open(): Promise<IDBDatabase> {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: 'order', autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => {
      opening = null;
      reject(request.error ?? new Error('The browser gave no IndexedDB.'));
    };
  });
  return opening;
}

async function inStore<T>(mode: IDBTransactionMode, act: (store: IDBObjectStore) => IDBRequest<T>): Promise<T> {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(STORE, mode, { durability: 'strict' });
    const request = act(transaction.objectStore(STORE));
    // Resolving on complete, not on success: only then is it on the disk.
    transaction.oncomplete = () => resolve(request.result);
    transaction.onabort = () => reject(transaction.error ?? new Error('The browser did not keep the write.'));
  });
}

export const keep = (write: NewKept): Promise<IDBValidKey> => inStore('readwrite', (store) => store.add(write));
export const keepAgain = (kept: Kept): Promise<IDBValidKey> => inStore('readwrite', (store) => store.put(kept));
export const drop = (order: number): Promise<undefined> => inStore('readwrite', (store) => store.delete(order));
/** All that is kept, in the order of capture. */
export const allKept = (): Promise<Kept[]> => inStore('readonly', (store) => store.getAll() as IDBRequest<Kept[]>);
