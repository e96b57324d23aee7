import type { Tx } from '../../platform/database/database.js';
import { rowsByIds } from '../../platform/database/rows.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { CalibrationAdoption } from './share.entity.js';
import type { Credit } from './statement.js';

const parentsOf = ({ document: { refitOf, adjustedFrom } }: CalibrationVersion): string[] => [refitOf?.id, adjustedFrom?.id].flatMap((id) => id ?? []);

/** Of each version, itself or through its parents: what other labs gave, and what those owed to others again. One statement for each generation. */
export async function creditsOf(tx: Tx, versions: readonly CalibrationVersion[]): Promise<Map<string, Credit[]>> {
  const known = new Map(versions.map((version) => [version.id, version]));
  for (let missing = unknown(versions, known); missing.length > 0;) {
    const rows = await rowsByIds(tx, CalibrationVersion, missing);
    for (const row of rows) known.set(row.id, row);
    missing = unknown(rows, known);
  }
  const ids = [...known.values()].flatMap(({ calibrationAdoptionId }) => calibrationAdoptionId ?? []);
  const adoptions = new Map((ids.length > 0 ? await rowsByIds(tx, CalibrationAdoption, ids) : []).map((row) => [row.id, row]));
  const owed = (version: CalibrationVersion): Credit[] => {
    const adoption = version.calibrationAdoptionId ? adoptions.get(version.calibrationAdoptionId) : undefined;
    const own = adoption ? [{ labName: adoption.originLab, label: adoption.document.label, version: adoption.document.version, licence: adoption.licence, citation: adoption.citation }, ...(adoption.document.credits ?? [])] : [];
    return [...own, ...parentsOf(version).flatMap((id) => owed(known.get(id)!))];
  };
  return new Map(versions.map((version) => [version.id, distinct(owed(version))]));
}

const unknown = (rows: readonly CalibrationVersion[], known: ReadonlyMap<string, CalibrationVersion>): string[] => [...new Set(rows.flatMap(parentsOf))].filter((id) => !known.has(id));

const distinct = (credits: readonly Credit[]): Credit[] => [...new Map(credits.map((credit) => [JSON.stringify(credit), credit])).values()];
