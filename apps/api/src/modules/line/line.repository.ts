import type { LineValue } from '#libs/instrument-line';
import type { LoadKind } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import type { Actor } from '../../platform/identity/actor.js';
import { LineFormat } from './line.entity.js';

/** The newest format of each instrument. One statement whatever the number. */
export const newestFormats = (tx: Tx, instrumentIds: readonly string[]): Promise<LineFormat[]> =>
  rowsWhere(tx, LineFormat, 'id IN (SELECT DISTINCT ON (instrument_id) id FROM line_format WHERE lab_id = $1 AND instrument_id = ANY($2::uuid[]) ORDER BY instrument_id, id DESC)', [instrumentIds]);

export interface HeardLineRow {
  readonly id: string;
  readonly instrumentId: string;
  readonly rawLine: string;
  readonly valueText: string;
  readonly decimal: string;
  readonly unit: string;
  readonly load: LoadKind | null;
  readonly heardAt: Date;
  readonly throughToken: string | null;
}

const COLUMNS = `line.id, line.instrument_id AS "instrumentId", line.raw_line AS "rawLine", line.value_text AS "valueText", line.decimal, line.unit, line.load,
  line.heard_at AS "heardAt", (SELECT label FROM access_token WHERE lab_id = $1 AND id = line.token_id) AS "throughToken"`;

/** @returns false when it had been told before */
export async function insertHeard(
  tx: Tx, actor: Actor, line: Pick<HeardLineRow, 'id' | 'instrumentId' | 'rawLine' | 'heardAt'>, value: LineValue,
): Promise<boolean> {
  const rows = await tx.query(
    `INSERT INTO heard_line (lab_id, id, instrument_id, raw_line, value_text, decimal, unit, load, heard_at, told_by, token_id)
     VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) ON CONFLICT DO NOTHING RETURNING id`,
    [tx.labId, line.id, line.instrumentId, line.rawLine, value.valueText, value.decimal, value.unit, value.load, line.heardAt, actor.accountId, actor.token?.id ?? null],
  );
  return rows.length > 0;
}

export const clearOld = (tx: Tx): Promise<unknown> =>
  tx.query(`DELETE FROM heard_line WHERE lab_id = $1 AND received_at < now() - interval '1 day'`, [tx.labId]);

export async function heardLine(tx: Tx, id: string): Promise<HeardLineRow | null> {
  return (await tx.query<HeardLineRow>(`SELECT ${COLUMNS} FROM heard_line line WHERE line.lab_id = $1 AND line.id = $2`, [tx.labId, id]))[0] ?? null;
}

export const newestHeard = (tx: Tx, instrumentId: string, most: number): Promise<HeardLineRow[]> =>
  tx.query(
    `SELECT ${COLUMNS} FROM heard_line line WHERE line.lab_id = $1 AND line.instrument_id = $2 AND line.received_at > now() - interval '1 hour'
     ORDER BY line.received_at DESC, line.id DESC LIMIT ${Math.min(Math.max(most, 1), 200)}`, [tx.labId, instrumentId],
  );
