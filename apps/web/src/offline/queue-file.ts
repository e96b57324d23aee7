import type { Kept } from './store.js';

/** Bytes do not go into a file of text: what they are called and how many there are does. */
const plain = (_name: string, value: unknown): unknown => (value instanceof Blob ? { name: 'name' in value ? value.name : null, mediaType: value.type, sizeBytes: value.size } : value);

/** What a person keeps of the queue beside the device: each write as it would be sent, in order, and what became of it. */
export const queueFile = (queue: readonly Kept[]): string => JSON.stringify({
  about: 'Writes captured for Threadleaf that the server has not recorded, in the order of capture. Times as told by the device.',
  writes: queue.map(({ kind, label, personName, labName, keptAt, problem, flags, aside, input }) => ({ kind, label, personName, labName, keptAt, refused: problem ?? null, flags: flags ?? [], setAside: aside ?? null, input })),
}, plain, 2);
