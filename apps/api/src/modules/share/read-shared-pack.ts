import { InputError } from '#libs/quantity';
import { formatVerifierKey, packHolds, parseCheckpoint, parseVerifierKey, unzipPack, verifyPack, type Finding, type PackFiles, type PackRecord } from '#libs/ledger';
import type { ShareDepth, SharePermission } from '../../generated/schema.js';
import { sha256 } from '../../platform/ledger/ledger-store.js';
import type { CalibrationDocument } from '../calibration/calibration-document.js';
import type { Statement } from './statement.js';

/** A pack of a shared calibration, verified whole, and what it says. */
export interface SharedPack {
  readonly findings: readonly Finding[];
  readonly shareId: string;
  readonly labId: string;
  readonly ledger: string;
  readonly keys: readonly string[];
  readonly checkpoint: string;
  readonly versionId: string;
  readonly depth: ShareDepth;
  readonly permits: SharePermission;
  readonly licence: string;
  readonly citation: string;
  readonly statement: Statement;
  /** The readings of the version, where they came along. */
  readonly points: CalibrationDocument['points'] | null;
}

const REMEDY = 'Nothing was taken over. Ask the lab that sent it for the pack anew.';

/**
 * Verifies a pack and reads the calibration in it.
 *
 * @param keys  texts of the keys that the ledger's checkpoint must follow from, where they are known otherwise; else the pack's own
 * @throws InputError `BAD_PACK`, in plain words, for one that is altered, cut, or about something else
 */
export function readSharedPack(bytes: Uint8Array, keys?: readonly string[]): SharedPack {
  const files = unzipPack(bytes);
  const findings = verifyPack(files, keys ? { keys: keys.map((text) => ({ key: parseVerifierKey(text), firstSize: 0, lastSize: null })) } : {}, sha256);
  if (!packHolds(findings)) {
    const [first, ...more] = findings.filter(({ status }) => status === 'fails');
    throw new InputError('BAD_PACK', 'pack', `the pack does not hold, so nothing in it is believed: ${first!.says}${more.length > 0 ? ` And ${more.length} more ${more.length === 1 ? 'thing fails' : 'things fail'}.` : ''}`, REMEDY);
  }
  // Verified: every file reads in one way only, and each record is what the ledger entered.
  const manifest = json(files, 'manifest.json') as { subject: { kind: string; id: string }; labId: string; origin: string; depth?: 'summary' | 'raw' };
  if (manifest.subject.kind !== 'calibration_share') throw new InputError('BAD_PACK', 'pack', `the pack is about a ${manifest.subject.kind.replaceAll('_', ' ')}, not about a shared calibration`, REMEDY);
  const records = text(files, 'records.jsonl').trimEnd().split('\n').map((line) => JSON.parse(line) as PackRecord);
  const share = records.find(({ id }) => id === manifest.subject.id) as unknown as ShareRecord;
  const checkpoint = text(files, 'ledger/checkpoint.txt');
  const version = records.find(({ id }) => id === share.calibrationVersionId) as unknown as { document: CalibrationDocument } | undefined;
  return {
    findings,
    shareId: share.id,
    labId: manifest.labId,
    ledger: manifest.origin,
    keys: (json(files, 'ledger/keys.json') as { key: string }[]).map(({ key }) => formatVerifierKey(parseVerifierKey(key))),
    checkpoint: parseCheckpoint(checkpoint) && checkpoint,
    versionId: share.calibrationVersionId,
    depth: share.depth,
    permits: share.permits,
    licence: share.licence,
    citation: share.citation,
    statement: share.document,
    points: share.depth === 'RAW' ? (version?.document.points ?? null) : null,
  };
}

interface ShareRecord {
  readonly id: string;
  readonly calibrationVersionId: string;
  readonly depth: ShareDepth;
  readonly permits: SharePermission;
  readonly licence: string;
  readonly citation: string;
  readonly document: Statement;
}

const text = (files: PackFiles, path: string): string => new TextDecoder().decode(files.get(path));
const json = (files: PackFiles, path: string): unknown => JSON.parse(text(files, path));
