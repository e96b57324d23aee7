import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import { strToU8, zipSync } from 'fflate';
import { InputError } from '#libs/quantity';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { Calibration, CalibrationVersion } from '../calibration/calibration.entity.js';
import { madeFile } from '../ledger/made-file.js';
import { Rig } from '../instrument/instrument.entity.js';
import { Crop } from '../sample/sample.entity.js';
import { TransferStudy } from '../transfer/transfer.entity.js';
import { studyTables, thicknessTables, versionTables } from './calibration-tables.js';
import { metadataOf, type Tidy } from './table.js';

interface Made {
  readonly title: string;
  readonly tables: readonly Tidy[];
}

async function ofVersion(tx: Tx, id: string): Promise<Made | null> {
  const row = await rowById(tx, CalibrationVersion, id);
  if (!row) return null;
  const calibration = (await rowById(tx, Calibration, row.calibrationId))!;
  const crop = (await rowById(tx, Crop, calibration.cropId))!;
  const rig = await rowById(tx, Rig, row.rigId);
  const title = `${calibration.label} version ${row.version}`;
  return {
    title,
    tables: versionTables({
      id, label: calibration.label, version: row.version, family: row.family, crop: crop.name, rig: rig ? `${rig.label} version ${rig.version}` : '', codeVersion: row.codeVersion, contentHash: row.contentHash.toString('hex'),
    }, row.document),
  };
}

async function ofStudy(tx: Tx, id: string): Promise<Made | null> {
  const row = await rowById(tx, TransferStudy, id);
  if (!row) return null;
  const { document } = row;
  return { title: `transfer study of ${document.given.label}`, tables: document.basis === 'READINGS' ? studyTables(id, document) : thicknessTables(id, document) };
}

@Resolver()
export class TidyResolver {
  @Query()
  async tidyTables(@Args() { kind, id }: { kind: string; id: string }, @Context() context: RequestContext): Promise<object | null> {
    const makers: Readonly<Record<string, (tx: Tx, id: string) => Promise<Made | null>>> = { calibration_version: ofVersion, transfer_study: ofStudy };
    const make = Object.hasOwn(makers, kind) ? makers[kind] : undefined;
    if (!make) throw new InputError('UNKNOWN', 'kind', `is ${kind}`, `Name one of ${Object.keys(makers).join(', ')}.`);
    const made = await make(await context.read(), id);
    if (!made) return null;
    const metadata = metadataOf(made.title, made.tables);
    const files = Object.fromEntries([...made.tables.map(({ fileName, csv }) => [fileName, strToU8(csv)] as const), ['csv-metadata.json', strToU8(metadata)] as const]);
    const fileName = `${made.title.replaceAll(/[^\p{L}\p{N}]+/gu, '-').toLowerCase()}-tables.zip`;
    // The same tables give the same bytes: no moment in them.
    return { tables: made.tables, metadata, file: madeFile(fileName, zipSync(files, { mtime: '1980-01-01T00:00:00' })) };
  }
}
