import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { basename } from 'node:path';
import type { Command } from 'commander';
import { v7 as uuidv7 } from 'uuid';
import { InputError } from '#libs/quantity';
import type { ApiClient } from '../client.js';
import { OperatorFailure, codeOf } from '../failure.js';
import { openSession, withSession, type SessionOptions } from '../session.js';
import { verifyFile } from '../verify/verify-file.js';

interface SaveOptions extends SessionOptions {
  readonly out?: string;
}

interface TakeOptions extends SessionOptions {
  readonly calibration?: string;
  readonly crop?: string;
  readonly rig?: string;
  readonly keyComparedWith?: string;
  readonly reason?: string;
}

/** Shared calibrations from one server to another: saved there, verified and taken over here. */
export function register(program: Command): void {
  const share = program.command('share').description('shared calibrations as sealed packs, from one server to another');
  withSession(share
    .command('save')
    .description('write the sealed pack of a shared calibration')
    .argument('<id>', 'of the share, or of the calibration version that it states; of several shares the newest')
    .option('--out <file>', 'where to write it; a name of its own in this folder when not given'))
    .action(save);
  withSession(share
    .command('take-over')
    .description('verify a pack of another server, show what it says, and take it over as a draft version once its key was compared')
    .argument('<file>', 'the pack')
    .option('--calibration <label>', 'the calibration it becomes a version of; begun where there is none of this label')
    .option('--crop <name>', 'crop of a calibration that is begun')
    .option('--rig <label>', 'the rig here that it shall stand for, in its newest version')
    .option('--key-compared-with <words>', 'with what, or whom, you compared the key that is shown')
    .option('--reason <words>', 'what it is taken over for, and why it may hold here')
    .addHelpText('after', '\nWithout --key-compared-with it shows what the pack says, and records nothing.'))
    .action(takeOver);
}

async function save(id: string, options: SaveOptions): Promise<void> {
  const client = await openSession(options);
  const { calibrationVersion } = await client.ask<{ calibrationVersion: { shares: { id: string }[] } | null }>('query ($id: UUID!) { calibrationVersion(id: $id) { shares { id } } }', { id });
  if (calibrationVersion?.shares.length === 0) throw new OperatorFailure('This calibration version is not shared: share it on its page first.');
  const { sharePack } = await client.ask<{ sharePack: { fileName: string; base64: string; sha256: string } }>('query ($id: UUID!) { sharePack(id: $id) { fileName base64 sha256 } }', { id: calibrationVersion?.shares[0]?.id ?? id });
  const bytes = Buffer.from(sharePack.base64, 'base64');
  if (createHash('sha256').update(bytes).digest('hex') !== sharePack.sha256) throw new OperatorFailure('The pack was damaged on its way here; nothing was written. Try again.');
  const out = options.out ?? sharePack.fileName;
  try {
    writeFileSync(out, bytes, { flag: 'wx' });
  } catch (error) {
    if (codeOf(error) === 'EEXIST') throw new OperatorFailure(`${out} is there already and was left as it is. Choose another name with --out.`);
    throw new OperatorFailure(`${out} cannot be written (${codeOf(error)}). Choose another place with --out.`);
  }
  console.log(`${out}: ${bytes.length} bytes, SHA-256 ${sharePack.sha256}\nGive the other lab the key of your ledger by another way than this file.`);
}

interface Said {
  readonly depth: string;
  readonly permits: string;
  readonly licence: string;
  readonly citation: string;
  readonly ledger: string;
  readonly keys: readonly string[];
  readonly statement: { readonly labName: string; readonly label: string; readonly version: number; readonly cropName: string; readonly leafCount: number; readonly rwcMin: number; readonly rwcMax: number; readonly validation: { readonly newLeafHalfWidthPoints: number | null } };
}

const SAID = `depth permits licence citation ledger keys statement { labName label version cropName leafCount rwcMin rwcMax validation { newLeafHalfWidthPoints } }`;

async function takeOver(file: string, options: TakeOptions): Promise<void> {
  const bytes = verified(file);
  const client = await openSession(options);
  const storedFileId = uuidv7();
  await client.storeFile({ id: storedFileId, name: basename(file), purpose: 'EVIDENCE_PACK' }, bytes);
  const { readSharedPack: { pack, problem } } = await client.ask<{ readSharedPack: { pack: Said | null; problem: { message: string; remedy: string } | null } }>(
    `query ($id: UUID!) { readSharedPack(storedFileId: $id) { pack { ${SAID} } problem { message remedy } } }`, { id: storedFileId },
  );
  if (!pack) throw new OperatorFailure(`${file}: ${problem!.message} ${problem!.remedy}`);
  console.log(tellPack(pack).join('\n'));
  const { keyComparedWith, reason } = options;
  if (keyComparedWith === undefined) return console.log('\nNothing was taken over. Compare the key with what that lab publishes, then give --key-compared-with, --reason, --calibration and --rig.');
  const calibrationId = await calibrationOf(client, options);
  const rigId = await rigOf(client, options.rig);
  const { calibrationVersion } = await client.send<{ calibrationVersion: { id: string; version: number } }>('importCalibration', 'ImportCalibrationInput', {
    id: uuidv7(), versionId: uuidv7(), storedFileId, calibrationId, rigId, keyComparedWith, reason: reason ?? '',
  }, 'calibrationVersion { id version }');
  console.log(`\nTaken over as version ${calibrationVersion.version} of ${options.calibration}, a draft: have it reviewed and approved.\n  threadleaf thread ${calibrationVersion.id}`);
}

/** The same check that needs no server: what does not hold is not sent anywhere. */
function verified(file: string): Uint8Array {
  try {
    const { holds, findings } = verifyFile({ pack: file });
    if (!holds) throw new OperatorFailure(`${file} does not hold, so nothing in it is believed: ${findings.filter(({ status }) => status === 'fails').slice(0, 3).map(({ says }) => says).join(' ')}`);
    return readFileSync(file);
  } catch (error) {
    if (error instanceof InputError) throw new OperatorFailure(`${file}: ${error.message}`);
    throw error;
  }
}

function tellPack({ depth, permits, licence, citation, ledger, keys, statement }: Said): string[] {
  const { labName, label, version, cropName, leafCount, rwcMin, rwcMax, validation } = statement;
  const width = validation.newLeafHalfWidthPoints;
  return [
    `${label} version ${version} of ${labName}, for ${cropName}: ${leafCount} leaves, RWC ${(100 * rwcMin).toFixed(1)} to ${(100 * rwcMax).toFixed(1)} %, one new leaf ${width === null ? 'not known' : `± ${width.toFixed(1)} points`}.`,
    `It holds ${depth === 'RAW' ? 'everything down to the raw lines' : 'figures and signatures, no reading'}, ${permits === 'REUSE' ? 'to be taken over' : 'to be read only'}. Licence: ${licence}. To be cited as: ${citation}.`,
    `Ledger ${ledger}, signed by`,
    ...keys.map((key) => `  ${key}`),
  ];
}

async function calibrationOf(client: ApiClient, { calibration, crop }: TakeOptions): Promise<string> {
  if (calibration === undefined) throw new OperatorFailure('--calibration is missing: of which calibration here shall it become a version?');
  const { calibrations, crops } = await client.ask<{ calibrations: { id: string; label: string }[]; crops: { id: string; name: string }[] }>('{ calibrations { id label } crops { id name } }');
  const known = calibrations.find(({ label }) => label.toLowerCase() === calibration.trim().toLowerCase());
  if (known) return known.id;
  const cropId = crops.find(({ name }) => name.toLowerCase() === crop?.trim().toLowerCase())?.id;
  if (!cropId) throw new OperatorFailure(`No calibration is named "${calibration}". To begin it, name its crop with --crop${crops.length > 0 ? `: ${crops.map(({ name }) => name).join(', ')}` : '; record the crop in Samples first'}.`);
  const id = uuidv7();
  await client.send('recordCalibration', 'RecordCalibrationInput', { id, label: calibration, cropId });
  return id;
}

async function rigOf(client: ApiClient, wanted: string | undefined): Promise<string> {
  const { rigs } = await client.ask<{ rigs: { id: string; label: string; version: number }[] }>('{ rigs { id label version } }');
  const [newest] = rigs.filter(({ label }) => label.toLowerCase() === wanted?.trim().toLowerCase()).sort((a, b) => b.version - a.version);
  if (newest) return newest.id;
  throw new OperatorFailure(`--rig: ${wanted === undefined ? 'for which rig here shall it stand?' : `no rig is named "${wanted}".`} ${rigs.length > 0 ? `Known: ${[...new Set(rigs.map(({ label }) => label))].join(', ')}.` : 'Register it on the Instruments screen first.'}`);
}
