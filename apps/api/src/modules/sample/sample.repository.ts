import { readScan } from '#libs/label';
import type { DiscFilter, DiscSort } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { PAGE_CAP, pageOf, rowsByIds, rowsWhere, type Page, type PageArgs } from '../../platform/database/rows.js';
import { ProblemError } from '../../platform/errors/problem.js';
import { Crop, Disc, Plant, SampleLoss, type SampleTable } from './sample.entity.js';

const like = (search: string | null | undefined): string | null =>
  search?.trim() ? `%${search.trim().replace(/[\\%_]/g, '\\$&')}%` : null;

export const cropsByName = (tx: Tx): Promise<Crop[]> => rowsWhere(tx, Crop, 'true', [], 'ORDER BY lower(name)');

export const plantsPage = (tx: Tx, page: PageArgs, search?: string | null): Promise<Page<Plant>> =>
  pageOf(tx, Plant, page, `$2::text IS NULL OR sample_words(label, id) ILIKE $2 OR id IN (
    SELECT id FROM plant_as_amended WHERE lab_id = $1 AND (cultivar ILIKE $2 OR treatment ILIKE $2))`, [like(search)]);

export interface DiscSearch {
  readonly search?: string | null;
  readonly cropId?: string | null;
  readonly filter?: DiscFilter | null;
  readonly sort?: DiscSort | null;
  readonly descending?: boolean | null;
}

/** Collects parameters from $1 (the lab) on. */
class Clauses {
  readonly parameters: unknown[];
  private readonly wheres: string[] = ['d.lab_id = $1'];
  private readonly joins = new Set<string>();

  constructor(tx: Tx) {
    this.parameters = [tx.labId];
  }

  bind(value: unknown): string {
    this.parameters.push(value);
    return `$${this.parameters.length}`;
  }

  where(clause: string, ...tables: (keyof typeof JOINS)[]): void {
    this.wheres.push(clause);
    this.need(...tables);
  }

  need(...tables: (keyof typeof JOINS)[]): void {
    for (const table of tables) this.joins.add(table);
  }

  from(): string {
    return `FROM disc d ${JOIN_ORDER.filter((table) => this.joins.has(table)).map((table) => JOINS[table]).join(' ')} WHERE ${this.wheres.join(' AND ')}`;
  }
}

/** Joined only where a filter or sort asks: most pages need none of them. */
const JOINS = {
  side: 'JOIN disc_as_amended side ON side.lab_id = d.lab_id AND side.id = d.id',
  leaf: 'JOIN leaf_as_amended leaf ON leaf.lab_id = d.lab_id AND leaf.id = d.leaf_id',
  plant: 'JOIN plant_as_amended plant ON plant.lab_id = leaf.lab_id AND plant.id = leaf.plant_id',
  loss: 'LEFT JOIN standing_loss loss ON loss.lab_id = d.lab_id AND loss.subject_id = d.id',
} as const;
const JOIN_ORDER = ['side', 'leaf', 'plant', 'loss'] as const;

const SORTS: Readonly<Record<DiscSort, { by: string; type: string; tables: readonly (keyof typeof JOINS)[] }>> = {
  NEWEST: { by: 'd.id', type: 'uuid', tables: [] },
  LABEL: { by: 'd.label', type: 'text', tables: [] },
  PLANT: { by: 'plant.label', type: 'text', tables: ['leaf', 'plant'] },
  CULTIVAR: { by: "coalesce(plant.cultivar, '')", type: 'text', tables: ['leaf', 'plant'] },
  TREATMENT: { by: "coalesce(plant.treatment, '')", type: 'text', tables: ['leaf', 'plant'] },
  GROWTH_STAGE: { by: "coalesce(leaf.growth_stage, '')", type: 'text', tables: ['leaf'] },
  CUT: { by: "coalesce(leaf.cut_at, '-infinity')", type: 'timestamptz', tables: ['leaf'] },
};

/** What is in this place or in one inside it; parameter of the place. */
const IN_PLACE = (place: string): string => `d.id IN (
  WITH RECURSIVE below(id) AS (
    SELECT ${place}::uuid UNION SELECT p.id FROM below JOIN place_as_moved p ON p.lab_id = $1 AND p.inside_id = below.id)
  SELECT c.subject_id FROM standing_custody c WHERE c.lab_id = $1 AND c.place_id IN (SELECT id FROM below))`;

/** Three letters in a row lead through the index; one or two are looked for in every label. */
function searchClause(clauses: Clauses, search: string): string {
  const text = clauses.bind(like(search));
  const words = `sample_words(d.label, d.id) ILIKE ${text}`;
  const found = search.trim().length >= 3
    ? `(letters_in_threes(sample_words(d.label, d.id)) @> letters_in_threes(${clauses.bind(search.trim())}) AND ${words})`
    : words;
  const { key } = readScan(search);
  return key ? `(${found} OR code_key(d.id) = ${clauses.bind(key)})` : found;
}

function clausesOf(tx: Tx, { search, cropId, filter }: DiscSearch): Clauses {
  const clauses = new Clauses(tx);
  if (search?.trim()) clauses.where(searchClause(clauses, search));
  if (cropId) clauses.where(`plant.crop_id = ${clauses.bind(cropId)}`, 'leaf', 'plant');
  if (filter?.cultivar) clauses.where(`plant.cultivar = ${clauses.bind(filter.cultivar)}`, 'leaf', 'plant');
  if (filter?.treatment) clauses.where(`plant.treatment = ${clauses.bind(filter.treatment)}`, 'leaf', 'plant');
  if (filter?.growthStage) clauses.where(`leaf.growth_stage = ${clauses.bind(filter.growthStage)}`, 'leaf');
  if (filter?.leafSide) clauses.where(`side.leaf_side = ${clauses.bind(filter.leafSide)}`, 'side');
  if (filter?.presence) clauses.where(`coalesce(loss.outcome, 'PRESENT') = ${clauses.bind(filter.presence)}`, 'loss');
  if (filter?.placeId) clauses.where(IN_PLACE(clauses.bind(filter.placeId)));
  return clauses;
}

/** A cursor is the sort's value of the last row and its id: a page begins exactly after it, whatever was recorded since. */
function readCursor(after: string): [value: string, id: string] {
  try {
    const [value, id] = JSON.parse(Buffer.from(after, 'base64url').toString('utf8')) as [string, string];
    if (typeof value === 'string' && /^[0-9a-f-]{36}$/.test(id)) return [value, id];
  } catch {
    // Told below.
  }
  throw new ProblemError('INPUT', 'after', 'This is no cursor of this list.', 'Give the endCursor of a page asked for with the same sort, or none.');
}

export async function discsPage(tx: Tx, { first, after }: PageArgs, search: DiscSearch): Promise<Page<Disc>> {
  const size = Math.min(Math.max(first ?? 50, 1), PAGE_CAP);
  const clauses = clausesOf(tx, search);
  const sort = search.sort ?? 'NEWEST';
  const { by, type, tables } = SORTS[sort];
  clauses.need(...tables);
  const down = sort === 'NEWEST' || Boolean(search.descending);
  if (after) {
    const [value, id] = readCursor(after);
    clauses.where(`(${by}, d.id) ${down ? '<' : '>'} (${clauses.bind(value)}::${type}, ${clauses.bind(id)}::uuid)`);
  }
  const way = down ? 'DESC' : 'ASC';
  const order = sort === 'NEWEST' ? `d.id ${way}` : `${by} ${way}, d.id ${way}`;
  const rows = await tx.query<{ id: string; by: string }>(`SELECT d.id, (${by})::text AS by ${clauses.from()} ORDER BY ${order} LIMIT ${size + 1}`, clauses.parameters);
  const shown = rows.slice(0, size);
  const found = new Map((await rowsByIds(tx, Disc, shown.map(({ id }) => id))).map((row) => [row.id, row]));
  const last = shown.at(-1);
  return {
    nodes: shown.map(({ id }) => found.get(id)!),
    pageInfo: { hasNextPage: rows.length > size, endCursor: last ? Buffer.from(JSON.stringify([last.by, last.id])).toString('base64url') : null },
  };
}

export async function countDiscs(tx: Tx, search: DiscSearch): Promise<number> {
  const clauses = clausesOf(tx, search);
  const [row] = await tx.query<{ count: string }>(`SELECT count(*) ${clauses.from()}`, clauses.parameters);
  return Number(row!.count);
}

export async function discByLabel(tx: Tx, label: string): Promise<Disc | null> {
  return (await rowsWhere(tx, Disc, 'label = $2', [label.trim()]))[0] ?? null;
}

/** What occurs in descriptions, most used first. */
export async function sampleWords(tx: Tx): Promise<{ cultivars: string[]; treatments: string[]; growthStages: string[] }> {
  const most = (column: string, view: string): Promise<{ word: string }[]> =>
    tx.query(`SELECT ${column} AS word FROM ${view} WHERE lab_id = $1 AND ${column} IS NOT NULL GROUP BY 1 ORDER BY count(*) DESC, 1 LIMIT 200`, [tx.labId]);
  const words = async (column: string, view: string): Promise<string[]> => (await most(column, view)).map(({ word }) => word);
  return {
    cultivars: await words('cultivar', 'plant_as_amended'), treatments: await words('treatment', 'plant_as_amended'), growthStages: await words('growth_stage', 'leaf_as_amended'),
  };
}

/** Which of the labels stand already, of one kind. */
export async function takenLabels(tx: Tx, table: SampleTable, labels: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ label: string }>(`SELECT label FROM ${table} WHERE lab_id = $1 AND label = ANY($2::text[]) ORDER BY label`, [tx.labId, labels]);
  return rows.map(({ label }) => label);
}

/** What the amendments made of each sample's description. */
export async function becomesOf(tx: Tx, ids: readonly string[]): Promise<Map<string, Record<string, string | null>>> {
  const rows = await tx.query<{ id: string; becomes: Record<string, string | null> }>(
    'SELECT subject_id AS id, becomes FROM sample_becomes WHERE lab_id = $1 AND subject_id = ANY($2::uuid[])', [tx.labId, ids],
  );
  return new Map(rows.map(({ id, becomes }) => [id, becomes]));
}

/** The loss that stands on each of the samples. */
export async function lossesOf(tx: Tx, ids: readonly string[]): Promise<Map<string, SampleLoss>> {
  const rows = await rowsWhere(tx, SampleLoss,
    'subject_id = ANY($2::uuid[]) AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = sample_loss.id)', [ids], 'ORDER BY noticed_at, id');
  return new Map(rows.map((row) => [row.subjectId, row]));
}
