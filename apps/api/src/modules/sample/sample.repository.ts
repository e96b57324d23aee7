import type { Tx } from '../../platform/database/database.js';
import { pageOf, rowsWhere, type Page, type PageArgs } from '../../platform/database/rows.js';
import { Crop, Disc, Plant } from './sample.entity.js';

const like = (search: string | null | undefined): string | null =>
  search?.trim() ? `%${search.trim().replace(/[\\%_]/g, '\\$&')}%` : null;

export const cropsByName = (tx: Tx): Promise<Crop[]> => rowsWhere(tx, Crop, 'true', [], 'ORDER BY lower(name)');

export const plantsPage = (tx: Tx, page: PageArgs, search?: string | null): Promise<Page<Plant>> =>
  pageOf(tx, Plant, page, '$2::text IS NULL OR label ILIKE $2 OR cultivar ILIKE $2', [like(search)]);

const OF_DISC = `
  ($2::text IS NULL OR label ILIKE $2)
  AND ($3::uuid IS NULL OR leaf_id IN (
    SELECT leaf.id FROM leaf JOIN plant ON plant.lab_id = leaf.lab_id AND plant.id = leaf.plant_id
    WHERE leaf.lab_id = $1 AND plant.crop_id = $3))`;

export interface DiscSearch {
  readonly search?: string | null;
  readonly cropId?: string | null;
}

export const discsPage = (tx: Tx, page: PageArgs, { search, cropId }: DiscSearch): Promise<Page<Disc>> =>
  pageOf(tx, Disc, page, OF_DISC, [like(search), cropId ?? null]);

export async function countDiscs(tx: Tx, { search, cropId }: DiscSearch): Promise<number> {
  const [row] = await tx.query<{ count: string }>(`SELECT count(*) FROM disc WHERE lab_id = $1 AND ${OF_DISC}`, [tx.labId, like(search), cropId ?? null]);
  return Number(row!.count);
}

export async function discByLabel(tx: Tx, label: string): Promise<Disc | null> {
  return (await rowsWhere(tx, Disc, 'label = $2', [label.trim()]))[0] ?? null;
}
