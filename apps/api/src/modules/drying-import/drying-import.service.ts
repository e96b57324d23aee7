import { createHash } from 'node:crypto';
import { Injectable } from '@nestjs/common';
import { canonicalize } from '#libs/ledger';
import { plausibilityFlags, rwcOf } from '#libs/leaf-water';
import { v7 as uuidv7 } from 'uuid';
import type { DryingImportInput, DryingImportMappingInput, Flag } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsWhere } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use } from '../../platform/ledger/recorder.js';
import { Weighing } from '../bench/bench.entity.js';
import { Crop, Disc, Leaf, Plant } from '../sample/sample.entity.js';
import type { RwcSeries } from '../water/rwc-series.entity.js';
import { WaterService } from '../water/water.service.js';
import { DryingImport } from './drying-import.entity.js';
import { readDryingFile, type DryingFile, type FileDisc, type FileRow } from './read-drying-file.js';

export interface Preview {
  readonly file: DryingFile;
  readonly flags: readonly { readonly line: number; readonly flag: Flag }[];
  readonly alreadyImported: boolean;
}

export interface Imported {
  readonly importId: string;
  readonly discCount: number;
  readonly weighingCount: number;
  readonly alreadyImported: boolean;
  readonly rwcSeries: readonly RwcSeries[];
}

/** RWC of a row, where the file tells turgid and dry mass and one exists. */
export function rwcOfRow({ turgid, dry }: FileDisc, row: FileRow): number | null {
  if (!turgid || !dry || Number(dry.massMg) >= Number(turgid.massMg)) return null;
  return rwcOf({ freshMassMg: Number(row.mass.massMg), turgidMassMg: Number(turgid.massMg), dryMassMg: Number(dry.massMg) });
}

function flagsOfRow(disc: FileDisc, index: number): Flag[] {
  const row = disc.rows[index]!;
  const before = disc.rows[index - 1];
  return plausibilityFlags({
    freshMassMg: Number(row.mass.massMg),
    ...(disc.turgid ? { turgidMassMg: Number(disc.turgid.massMg) } : {}),
    ...(disc.dry ? { dryMassMg: Number(disc.dry.massMg) } : {}),
    ...(before ? { dryingMassesMg: [Number(before.mass.massMg), Number(row.mass.massMg)] } : {}),
  }).map(({ code, severity, message }) => ({ code, severity: severity === 'ask' ? 'ASK' : 'WARN', message }));
}

const sha256 = (text: string): string => createHash('sha256').update(text).digest('hex');

/** The mapping with absent parts as null, so that equal mappings are equal texts. */
const settled = (mapping: DryingImportMappingInput): DryingImportMappingInput => ({
  delimiter: mapping.delimiter ?? null,
  decimalComma: mapping.decimalComma ?? false,
  massUnit: mapping.massUnit,
  discColumn: mapping.discColumn,
  timeColumn: mapping.timeColumn,
  timeUnit: mapping.timeUnit,
  startAt: mapping.startAt ?? null,
  utcOffset: mapping.utcOffset ?? null,
  massColumn: mapping.massColumn,
  turgidMassColumn: mapping.turgidMassColumn ?? null,
  dryMassColumn: mapping.dryMassColumn ?? null,
});

/** Drying series from files: read, shown, and recorded whole or not at all. */
@Injectable()
export class DryingImportService {
  constructor(
    private readonly recorder: Recorder,
    private readonly water: WaterService,
  ) {}

  async preview(tx: Tx, input: DryingImportInput): Promise<Preview> {
    const file = readDryingFile(input.text, input.mapping);
    const flags = file.discs.flatMap((disc) => disc.rows.flatMap((row, i) => flagsOfRow(disc, i).map((flag) => ({ line: row.line, flag }))));
    return { file, flags, alreadyImported: (await this.earlier(tx, input)) !== null };
  }

  async import(tx: Tx, actor: Actor, input: DryingImportInput): Promise<Imported> {
    // One file at a time in a lab: two people who send the same one must not both be first.
    await tx.query('SELECT pg_advisory_xact_lock(hashtext($1), hashtext($2))', ['drying import', tx.labId]);
    const earlier = await this.earlier(tx, input);
    if (earlier) return { importId: earlier.id, discCount: 0, weighingCount: 0, alreadyImported: true, rwcSeries: [] };
    const crop = await rowById(tx, Crop, input.cropId);
    if (!crop) throw notFound('cropId', 'The crop');
    const file = readDryingFile(input.text, input.mapping);
    if (file.errors.length > 0) {
      throw new ProblemError('INPUT', 'text', `${file.errors.length} rows cannot be read.`, 'Correct them in the file and import it again; nothing was recorded.', { errors: file.errors });
    }
    const given = {
      id: uuidv7(),
      fileName: requireText('fileName', input.fileName),
      fileHash: sha256(input.text),
      mapping: settled(input.mapping),
      cropId: crop.id,
      rowCount: file.rowCount,
    };
    const { row: kept } = await this.recorder.record(tx, actor, DryingImport, given, () => ({ uses: [{ kind: 'crop', id: crop.id, role: 'of' }], action: 'import' }));
    const stem = given.fileName.replace(/\.[^.]*$/, '');
    const plantId = uuidv7();
    await this.recorder.record(tx, actor, Plant, { id: plantId, cropId: crop.id, label: stem, cultivar: null, treatment: null }, () => ({ uses: [{ kind: 'crop', id: crop.id, role: 'of' }] }));
    const rwcSeries: RwcSeries[] = [];
    let weighingCount = 0;
    for (const disc of file.discs) {
      const discId = await this.recordDisc(tx, actor, plantId, `${stem} ${disc.name}`);
      weighingCount += await this.recordWeighings(tx, actor, kept, discId, disc);
      if (disc.turgid && disc.dry) {
        rwcSeries.push((await this.water.compute(tx, actor, { id: uuidv7(), discId, dryingRunId: null })).row);
      }
    }
    return { importId: kept.id, discCount: file.discs.length, weighingCount, alreadyImported: false, rwcSeries };
  }

  mappings(tx: Tx): Promise<DryingImport[]> {
    return rowsWhere(tx, DryingImport, 'true', [], 'ORDER BY id DESC LIMIT 20');
  }

  /** The import of the same file by the same mapping, or null. */
  private async earlier(tx: Tx, input: DryingImportInput): Promise<DryingImport | null> {
    const same = await rowsWhere(tx, DryingImport, 'file_hash = $2 AND crop_id = $3', [sha256(input.text), input.cropId]);
    const wanted = canonicalize(settled(input.mapping));
    return same.find(({ mapping }) => canonicalize(mapping) === wanted) ?? null;
  }

  /** A file names one thing a series: it becomes a leaf with one disc, the whole of it. */
  private async recordDisc(tx: Tx, actor: Actor, plantId: string, label: string): Promise<string> {
    const leafId = uuidv7();
    const discId = uuidv7();
    const leaf = { id: leafId, plantId, label, position: null, growthStage: null, cutAt: null, cutOffsetMin: null };
    await this.recorder.record(tx, actor, Leaf, leaf, () => ({ uses: [{ kind: 'plant', id: plantId, role: 'of' }] }));
    const disc = { id: discId, leafId, label, diameterMm: null, punchedAt: null, punchedOffsetMin: null };
    await this.recorder.record(tx, actor, Disc, disc, () => ({ uses: [{ kind: 'leaf', id: leafId, role: 'of' }] }));
    return discId;
  }

  private async recordWeighings(tx: Tx, actor: Actor, file: DryingImport, discId: string, disc: FileDisc): Promise<number> {
    const uses: Use[] = [{ kind: 'disc', id: discId, role: 'of' }, { kind: 'drying_import', id: file.id, role: 'from' }];
    const record = async (state: Weighing['state'], row: FileRow, mass: FileRow['mass'], flags: Flag[]): Promise<void> => {
      const given = {
        id: uuidv7(), discId, state,
        observedAt: row.moment.at, observedOffsetMin: row.moment.offsetMin,
        massText: mass.text, massUnit: file.mapping.massUnit, massMg: mass.massMg,
        balanceId: null, dryingRunId: null, ovenCycleId: null, dryingImportId: file.id,
        entryMode: 'IMPORTED' as const, rawLine: row.raw, flags,
        flagAnswer: flags.some(({ severity }) => severity === 'ASK') ? `Kept as imported, line ${row.line} of ${file.fileName}.` : null,
      };
      await this.recorder.record(tx, actor, Weighing, given, () => ({ uses, action: 'import' }));
    };
    const first = disc.rows[0]!;
    const last = disc.rows.at(-1)!;
    // The file tells these two masses without a time of their own: they stand at the ends of the series.
    if (disc.turgid) await record('TURGID', first, disc.turgid, []);
    for (const [i, row] of disc.rows.entries()) await record('DRYING', row, row.mass, flagsOfRow(disc, i));
    if (disc.dry) await record('DRY', last, disc.dry, []);
    return disc.rows.length + (disc.turgid ? 1 : 0) + (disc.dry ? 1 : 0);
  }
}
