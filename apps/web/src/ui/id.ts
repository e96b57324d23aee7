import { v7 } from 'uuid';

/** A new record's id, made here so that the same record sent twice is one write. */
export const newId = (): string => v7();
