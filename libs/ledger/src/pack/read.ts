import { InputError } from '#libs/quantity';
import type { LedgerKey } from '../checkpoint.js';
import { requireEntry } from '../entry.js';
import { parseKeyChange } from '../key-change.js';
import { parseVerifierKey } from '../signed-note.js';
import { toHex, type Sha256 } from '../content-hash.js';
import { COUNT, ID, ROLE, TEXT, UUID, WORD, requireShape, shapeOf } from '../shape.js';
import {
  PATHS, type LineageEdge, type PackAgent, type PackConsistency, type PackFiles, type PackRecord, type ProvenEntry, type TableDictionary,
} from './layout.js';
import { readManifest, type Manifest } from './manifest.js';
import { dictionariesIn } from './table.js';
import { PACK_REMEDY, hashesFromText, readJson, readJsonLines, textOf, type JsonLine } from './text.js';
import { utf8Bytes } from '../utf8.js';

/** A record with the hash of the very bytes that stand in the pack. */
export interface ReadRecord {
  readonly record: PackRecord;
  readonly contentHash: string;
}

/** A pack whose files could all be read. Nothing in it is believed yet. */
export interface ReadPack {
  readonly files: PackFiles;
  readonly manifest: Manifest;
  readonly records: readonly ReadRecord[];
  readonly edges: readonly LineageEdge[];
  readonly agents: readonly PackAgent[];
  readonly entries: readonly ProvenEntry[];
  readonly checkpoint: string;
  readonly keys: readonly LedgerKey[];
  readonly consistency: readonly PackConsistency[];
  readonly dictionaries: readonly TableDictionary[];
}

const ENTRY_LINE = shapeOf({ entry: [() => true, 'an entry'], index: COUNT, proof: [Array.isArray, 'a list of hashes'] });
const EDGE = shapeOf({ fromKind: WORD, fromId: ID, toKind: WORD, toId: ID, role: ROLE });
const AGENT = shapeOf({ id: ID, kind: [(value) => value === 'person' || value === 'service', 'person or service'], name: TEXT });
const KEY = shapeOf({
  key: TEXT, firstSize: COUNT, lastSize: [(value) => value === null || COUNT[0](value), 'a whole number from 0, or null'],
  change: [(value) => value === null || typeof value === 'string', 'the note of the key before it, or null'],
});
const CONSISTENCY_LINE = shapeOf({ oldSize: COUNT, proof: [Array.isArray, 'a list of hashes'] });
const RECORD = shapeOf({ kind: WORD, id: ID, labId: UUID, recordedBy: ID });
const USES = shapeOf({ kind: WORD, id: ID, role: ROLE });

/**
 * Reads every file that a verifier needs, strictly: unknown members, other order, doubles and other texts for the same
 * value are refused, so that a pack has one reading only.
 *
 * @throws InputError that names the file and the line
 */
export function readPack(files: PackFiles, sha256: Sha256): ReadPack {
  const manifest = readManifest(fileOf(files, PATHS.manifest));
  const lines = (path: string): JsonLine[] => readJsonLines(path, fileOf(files, path));
  return {
    files,
    manifest,
    records: readRecords(lines(PATHS.records), manifest.labId, sha256),
    edges: lines(PATHS.lineage).map(({ value, place }, i, all) => {
      const before = all[i - 1];
      if (before && before.line >= (all[i]?.line ?? '')) throw outOfOrder(place);
      return requireShape(value, EDGE, 'BAD_PACK', place, PACK_REMEDY) as unknown as LineageEdge;
    }),
    agents: ascending(PATHS.agents, (agent) => agent.id, listIn(files, PATHS.agents).map(({ value, place }) =>
      requireShape(value, AGENT, 'BAD_PACK', place, PACK_REMEDY) as unknown as PackAgent)),
    entries: ascending(PATHS.entries, ({ index }) => index, lines(PATHS.entries).map(({ value, place }) => {
      const { entry, index, proof } = requireShape(value, ENTRY_LINE, 'BAD_PACK', place, PACK_REMEDY);
      return { entry: requireEntry(entry), index: index as number, proof: hashesFromText(`${place}.proof`, proof) };
    })),
    checkpoint: textOf(PATHS.checkpoint, fileOf(files, PATHS.checkpoint)),
    keys: listIn(files, PATHS.keys).map(({ value, place }) => {
      const { key, firstSize, lastSize, change } = requireShape(value, KEY, 'BAD_PACK', place, PACK_REMEDY);
      if (change !== null) parseKeyChange(change as string);
      return {
        key: parseVerifierKey(key as string), firstSize: firstSize as number, lastSize: lastSize as number | null,
        ...(change !== null && { change: change as string }),
      };
    }),
    consistency: ascending(PATHS.consistency, ({ oldSize }) => oldSize, lines(PATHS.consistency).map(({ value, place }) => {
      const { oldSize, proof } = requireShape(value, CONSISTENCY_LINE, 'BAD_PACK', place, PACK_REMEDY);
      return { oldSize: oldSize as number, proof: hashesFromText(`${place}.proof`, proof) };
    })),
    dictionaries: dictionariesIn(PATHS.tables, readJson(PATHS.tables, fileOf(files, PATHS.tables))),
  };
}

function readRecords(lines: readonly JsonLine[], labId: string, sha256: Sha256): ReadRecord[] {
  const records = lines.map(({ value, line, place }) => {
    const record = requireRecord(value, place);
    if (record.labId !== labId) {
      throw new InputError('BAD_PACK', `${place}.labId`, 'the record is of another lab than the pack', PACK_REMEDY);
    }
    return { record, contentHash: toHex(sha256(utf8Bytes(line))) };
  });
  ascending(PATHS.records, ({ record }) => `${record.kind} ${record.id}`, records);
  const ids = new Set(records.map(({ record }) => record.id));
  if (ids.size !== records.length) throw new InputError('BAD_PACK', PATHS.records, 'two records have one id', PACK_REMEDY);
  return records;
}

/** A record has members of its own beside those that every record has. */
function requireRecord(value: unknown, place: string): PackRecord {
  const isObject = value !== null && typeof value === 'object' && !Array.isArray(value);
  const members = isObject ? value as Record<string, unknown> : {};
  const common = Object.fromEntries(Object.entries(members).filter(([name]) => RECORD.names.has(name)));
  requireShape(common, RECORD, 'BAD_PACK', place, PACK_REMEDY);
  const { uses = [] } = members;
  if (!Array.isArray(uses)) throw new InputError('BAD_PACK', `${place}.uses`, 'expected a list', PACK_REMEDY);
  uses.forEach((use, i) => requireShape(use, USES, 'BAD_PACK', `${place}.uses[${i}]`, PACK_REMEDY));
  return members as unknown as PackRecord;
}

function fileOf(files: PackFiles, path: string): Uint8Array {
  const bytes = files.get(path);
  if (!bytes) throw new InputError('BAD_PACK', path, 'the pack lacks this file', PACK_REMEDY);
  return bytes;
}

function listIn(files: PackFiles, path: string): { readonly value: unknown; readonly place: string }[] {
  const list = readJson(path, fileOf(files, path));
  if (!Array.isArray(list)) throw new InputError('BAD_PACK', path, 'expected a list', PACK_REMEDY);
  return list.map((value: unknown, i) => ({ value, place: `${path}[${i}]` }));
}

/** Ascending order allows one text only, and no double. */
function ascending<T>(path: string, keyOf: (item: T) => string | number, items: readonly T[]): readonly T[] {
  items.forEach((item, i) => {
    const before = items[i - 1];
    if (before !== undefined && keyOf(before) >= keyOf(item)) throw outOfOrder(`${path} item ${i + 1}`);
  });
  return items;
}

function outOfOrder(place: string): InputError {
  return new InputError('BAD_PACK', place, 'it does not come after the one before it, or is the same', PACK_REMEDY);
}
