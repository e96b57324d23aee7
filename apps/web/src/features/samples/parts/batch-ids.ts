import { useRef } from 'react';
import { newId } from '../../../ui/id.js';

/**
 * Ids of the records that one entry makes, the same as long as the entry has the same id: a retry is then the same write
 * for each of them.
 */
export function useBatchIds(): (entryId: string, count: number) => readonly string[] {
  const kept = useRef(new Map<string, string[]>());
  return (entryId, count) => {
    const ids = kept.current.get(entryId) ?? [];
    while (ids.length < count) ids.push(newId());
    kept.current.set(entryId, ids);
    return ids.slice(0, count);
  };
}
