import DataLoader from 'dataloader';
import type { KeptRow } from '../database/kept-row.js';
import { rowsBy, rowsByIds, type KeptEntity } from '../database/rows.js';
import type { Tx } from '../database/database.js';

/**
 * Loaders of one request: however many parents ask, one statement a kind of question.
 * Made with the request's context and thrown away with it, so nothing leaks between people or snapshots.
 */
export class Loaders {
  private readonly byKey = new Map<string, DataLoader<string, unknown>>();

  constructor(private readonly read: () => Promise<Tx>) {}

  /** The row with this id, or null. */
  one<E extends KeptRow>(entity: KeptEntity<E>, id: string): Promise<E | null> {
    return this.batch(`one ${entity.name}`, id, async (tx, ids) => {
      const rows = new Map((await rowsByIds(tx, entity, ids)).map((row) => [row.id, row]));
      return ids.map((wanted) => rows.get(wanted) ?? null);
    });
  }

  /** Rows whose `property` is `value`, in the order given. */
  many<E extends KeptRow>(entity: KeptEntity<E>, property: keyof E & string, value: string, orderBy = 'id'): Promise<E[]> {
    return this.batch(`many ${entity.name} ${property} ${orderBy}`, value, async (tx, values) => {
      const rows = new Map<string, E[]>(values.map((wanted) => [wanted, []]));
      for (const row of await rowsBy(tx, entity, property, values, orderBy)) rows.get(String(row[property]))?.push(row);
      return values.map((wanted) => rows.get(wanted) ?? []);
    });
  }

  /** Any question answered in bulk; `name` tells questions apart and must be constant for the same question. */
  batch<T>(name: string, key: string, answer: (tx: Tx, keys: readonly string[]) => Promise<readonly T[]>): Promise<T> {
    let loader = this.byKey.get(name) as DataLoader<string, T> | undefined;
    if (!loader) {
      loader = new DataLoader<string, T>(async (keys) => answer(await this.read(), keys));
      this.byKey.set(name, loader as DataLoader<string, unknown>);
    }
    return loader.load(key);
  }

  /** Forgets what was read, so that fields resolved after a write see it. */
  forget(): void {
    this.byKey.clear();
  }
}
