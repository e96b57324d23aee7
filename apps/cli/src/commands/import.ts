import { readFileSync } from 'node:fs';
import { basename } from 'node:path';
import type { Command } from 'commander';
import type { ApiClient } from '../client.js';
import { OperatorFailure, codeOf } from '../failure.js';
import { isWhole, mappingForHeader, missingParts, readMapping, type Mapping, type RememberedMapping } from '../import/mapping.js';
import { PREVIEW_FIELDS, tellPreview, tellRowErrors, type Preview } from '../import/tell-preview.js';
import { openSession, withSession, type SessionOptions } from '../session.js';
import { canAsk, confirmed } from '../terminal.js';

interface ImportOptions extends SessionOptions {
  readonly crop: string;
  readonly mapping?: string;
  readonly set: readonly string[];
  readonly yes: boolean;
}

interface Imported {
  readonly discCount: number;
  readonly weighingCount: number;
  readonly alreadyImported: boolean;
  readonly rwcSeries: readonly { readonly id: string; readonly disc: { readonly label: string } }[];
}

export function register(program: Command): void {
  withSession(program
    .command('import')
    .description('record a drying series from a CSV or TSV file: shown first, then all rows or none')
    .argument('<file>', 'the file; its first line names the columns')
    .requiredOption('--crop <name>', 'crop that the leaves are of')
    .option('--mapping <file>', 'JSON file that says which column is what, e.g. {"discColumn": "leaf", "massColumn": "mass", "massUnit": "g", ...}')
    .option('--set <key=value>', 'one part of the mapping, over the file; can be given again and again', (value: string, before: string[]) => [...before, value], [])
    .option('--yes', 'record without asking', false))
    .action(importFile);
}

async function importFile(file: string, options: ImportOptions): Promise<void> {
  const text = readText(file);
  const given = readMapping(options.mapping === undefined ? undefined : readText(options.mapping), options.set);
  const client = await openSession(options);
  const cropId = await cropOf(client, options.crop);
  const mapping = await settle(client, given, text);
  const input = { fileName: basename(file), text, cropId, mapping };

  const preview = await client.send<Preview>('previewDryingImport', 'DryingImportInput', input, PREVIEW_FIELDS);
  console.log(tellPreview(preview).join('\n'));
  if (preview.errors.length > 0) {
    console.error(['', 'Cannot be read:', ...tellRowErrors(preview.errors)].join('\n'));
    throw new OperatorFailure(`${file} was not imported: nothing was recorded. Correct it and import it again.`);
  }
  if (preview.alreadyImported) return console.log(`\nAlready imported: ${file} was recorded before with this mapping. Nothing was changed.`);
  if (!options.yes && !canAsk()) return console.log('\nNothing was recorded yet: give --yes to record these rows.');
  if (!options.yes && !(await confirmed(`\nRecord these ${preview.rowCount} rows as ${options.crop}?`))) return console.log('Nothing was recorded.');

  const imported = await client.send<Imported>('importDryingSeries', 'DryingImportInput', input, 'discCount weighingCount alreadyImported rwcSeries { id disc { label } }');
  console.log(imported.alreadyImported ? '\nAlready imported meanwhile. Nothing was changed.' : `\nRecorded ${imported.weighingCount} weighings of ${imported.discCount} ${imported.discCount === 1 ? 'disc' : 'discs'}.`);
  for (const { id, disc } of imported.rwcSeries) console.log(`  RWC of ${disc.label}: threadleaf thread ${id}`);
}

function readText(file: string): string {
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(readFileSync(file));
  } catch (error) {
    if (codeOf(error) === 'ERR_ENCODING_INVALID_ENCODED_DATA') throw new OperatorFailure(`${file} is not UTF-8 text. Save it as CSV with UTF-8 encoding.`);
    throw new OperatorFailure(`${file} cannot be read (${codeOf(error) ?? String(error)}).`);
  }
}

async function cropOf(client: ApiClient, name: string): Promise<string> {
  const { crops } = await client.ask<{ crops: { id: string; name: string }[] }>('{ crops { id name } }');
  const found = crops.find((crop) => crop.name.toLowerCase() === name.trim().toLowerCase());
  if (found) return found.id;
  const known = crops.length ? `Known: ${crops.map((crop) => crop.name).join(', ')}.` : 'No crop is recorded yet: record it in Samples first.';
  throw new OperatorFailure(`--crop: no crop is named "${name}". ${known}`);
}

/** What was given, completed where it is not whole by the newest mapping used before that fits the file. */
async function settle(client: ApiClient, given: Partial<Mapping>, text: string): Promise<Mapping> {
  if (isWhole(given)) return given;
  const { dryingImportMappings } = await client.ask<{ dryingImportMappings: RememberedMapping[] }>(
    '{ dryingImportMappings { delimiter decimalComma massUnit discColumn timeColumn timeUnit utcOffset massColumn turgidMassColumn dryMassColumn usedAt fileName } }',
  );
  const fitting = mappingForHeader(dryingImportMappings, text);
  if (!fitting) {
    throw new OperatorFailure(`The mapping lacks ${missingParts(given).join(', ')}, and none used before fits the columns of this file. Give --mapping, or --set for each.`);
  }
  const { usedAt, fileName, ...remembered } = fitting;
  console.log(`Mapping as used for ${fileName} on ${usedAt}${Object.keys(given).length ? `, with ${Object.keys(given).join(', ')} as given` : ''}.`);
  return { ...remembered, ...given };
}
