import { InputError } from '#libs/quantity';
import { parseCheckpoint, verifyCheckpoint, type CheckpointVerdict, type LedgerKey, type ReadCheckpoint } from '../checkpoint.js';
import { defaultSha256, toHex, type Sha256 } from '../content-hash.js';
import { entryLeaf, type LedgerEntry } from '../entry.js';
import { keysThatFollow } from '../key-change.js';
import { verifyConsistency, verifyInclusion } from '../merkle-proof.js';
import { leafHash } from '../merkle-tree.js';
import { formatVerifierKey, type VerifierKey } from '../signed-note.js';
import { verdictOf, type Failure, type Finding } from './finding.js';
import { PATHS, type LineageEdge, type PackFiles } from './layout.js';
import { provDocument } from './prov.js';
import { readPack, type ReadPack, type ReadRecord } from './read.js';
import { verifySeal } from './seal.js';
import { tableDescriptor, tableFile, tablePath } from './table.js';
import { jsonFile } from './text.js';

/** What the auditor brings along, from another source than the pack. */
export interface AuditorHolds {
  /** Text of a checkpoint kept from earlier: printed, mailed, or copied out of the lab's reach. */
  readonly checkpoint?: string;
  /** The ledger's keys, as the lab published them. Without them the pack's own are used and told to be unproven. */
  readonly keys?: readonly LedgerKey[];
}

/**
 * Checks an evidence pack, with nothing but its files and what the auditor holds: no server, no database, no network.
 *
 * It never throws for what is in the files; whatever they hold, there is an answer. It cannot tell what was left out
 * of the pack, such as an amendment that it does not show: the ledger itself must be asked for that.
 *
 * @returns what was found, in an order that reads; {@link packHolds} tells whether anything failed
 * @example
 * const findings = verifyPack(unzipPack(zip), { checkpoint: kept });
 */
export function verifyPack(files: PackFiles, holds: AuditorHolds = {}, sha256: Sha256 = defaultSha256): Finding[] {
  let pack: ReadPack;
  try {
    pack = readPack(files, sha256);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return [{ check: 'form', status: 'fails', about: error.field, says: `The pack cannot be read. ${error.message}` }];
  }
  const keys = holds.keys ? keysThatFollow(pack.manifest.origin, holds.keys, pack.keys) : pack.keys;
  const signed = verifyCheckpoint(pack.checkpoint, pack.manifest.origin, keys);
  return [
    tellForm(pack),
    ...checkFiles(pack, sha256),
    checkSeal(pack, signed, keys, sha256),
    ...checkCheckpoint(signed),
    ...checkKept(pack, signed, keys, holds, sha256),
    ...checkEntries(pack, sha256),
    ...checkRecords(pack),
    ...checkLineage(pack),
    ...checkTables(pack),
    ...checkProvenance(pack),
    ...checkStoredFiles(pack),
    ...tellReading(pack),
  ];
}

function tellForm({ manifest }: ReadPack): Finding {
  const { kind, id } = manifest.subject;
  return { check: 'form', status: 'holds', about: PATHS.manifest, says: `The pack is about ${kind} ${id} and can be read whole.` };
}

function checkFiles({ files, manifest }: ReadPack, sha256: Sha256): Finding[] {
  const failures = manifest.files.flatMap(({ path, bytes, sha256: hash }) => {
    const file = files.get(path);
    if (!file) return [{ about: path, says: 'The manifest lists this file, but the pack lacks it.' }];
    if (file.length !== bytes) {
      return [{ about: path, says: `The file has ${file.length} bytes where the manifest lists ${bytes}: it was changed or cut.` }];
    }
    const isListed = toHex(sha256(file)) === hash;
    return isListed ? [] : [{ about: path, says: 'The file is not the one that the manifest lists: its SHA-256 differs.' }];
  });
  const known = new Set<string>([PATHS.manifest, PATHS.seal, ...manifest.files.map(({ path }) => path)]);
  const stray = [...files.keys()].filter((path) => !known.has(path))
    .map((path) => ({ about: path, says: 'The pack holds this file, but the manifest does not list it.' }));
  return verdictOf('files', PATHS.manifest, [...failures, ...stray], `All ${manifest.files.length} files are as the manifest lists them.`);
}

function checkSeal({ files, manifest }: ReadPack, signed: CheckpointVerdict, keys: readonly LedgerKey[], sha256: Sha256): Finding {
  const tell = (status: Finding['status'], says: string): Finding => ({ check: 'seal', status, about: PATHS.seal, says });
  const seal = files.get(PATHS.seal);
  if (!seal) return tell('unproven', 'The pack is not sealed: what the ledger does not cover may have been changed by whoever carried it.');
  const size = signed.holds ? signed.checkpoint.size : 0;
  const verdict = verifySeal(files, new TextDecoder('utf-8', { ignoreBOM: true }).decode(seal), manifest.origin, keys, size, sha256);
  return verdict.holds
    ? tell('holds', 'The pack as a whole is as the ledger\'s key sealed it.')
    : tell('fails', `The pack is not as it was sealed: ${verdict.why}.`);
}

function checkCheckpoint(signed: CheckpointVerdict): Finding[] {
  const about = PATHS.checkpoint;
  const tell = (status: Finding['status'], says: string): Finding[] => [{ check: 'checkpoint', status, about, says }];
  if (!signed.holds) return tell('fails', `The checkpoint cannot be believed: ${signed.why}.`);
  const { origin, size } = signed.checkpoint;
  return tell('holds', `The checkpoint of ${origin} over ${size} entries is signed by ${namesOf(signed.signedBy)}.`);
}

/** Whose key it is, and whether the ledger still begins with what the auditor kept. */
function checkKept(
  pack: ReadPack, signed: CheckpointVerdict, keys: readonly LedgerKey[], holds: AuditorHolds, sha256: Sha256,
): Finding[] {
  const kept = holds.checkpoint === undefined ? undefined : verifyCheckpoint(holds.checkpoint, pack.manifest.origin, keys);
  const findings: Finding[] = signed.holds ? [tellKey(pack, signed.signedBy, kept, keys, holds)] : [];
  if (!kept) return findings;
  const about = 'the checkpoint that you kept';
  if (!kept.holds) {
    return [...findings, { check: 'kept checkpoint', status: 'fails', about, says: `Your checkpoint does not agree with this pack: ${kept.why}.` }];
  }
  const now = readCheckpoint(pack.checkpoint);
  return now ? [...findings, compareKept(pack, kept.checkpoint, now, about, sha256)] : findings;
}

function tellKey(
  { manifest }: ReadPack, signedBy: readonly VerifierKey[], kept: CheckpointVerdict | undefined,
  keys: readonly LedgerKey[], holds: AuditorHolds,
): Finding {
  const tell = (status: Finding['status'], says: string): Finding => ({ check: 'key', status, about: PATHS.keys, says });
  if (holds.keys) return tell('holds', `The checkpoint is signed with a key that you hold, or with one that it named as the next: ${namesOf(signedBy)}.`);
  if (kept?.holds) {
    // A forger can bring a key, but cannot have signed with it what lay in the auditor's drawer.
    const trusted = keysThatFollow(manifest.origin, keys.filter(({ key }) => kept.signedBy.includes(key)), keys);
    const linked = signedBy.filter((own) => trusted.some(({ key }) => key === own));
    return linked.length > 0
      ? tell('holds', `The checkpoint is signed with the key of the one that you kept, or with one that it named as the next: ${namesOf(linked)}.`)
      : tell('fails', `The checkpoint that you kept is signed with another key, ${namesOf(kept.signedBy)}, `
        + `and that key did not name ${namesOf(signedBy)} as the next.`);
  }
  return tell('unproven', 'The key comes with the pack itself, and a forger could bring one too. '
    + `Compare it with the key that the lab published: ${signedBy.map(formatVerifierKey).join(', ')}`);
}

function compareKept({ consistency }: ReadPack, kept: ReadCheckpoint, now: ReadCheckpoint, about: string, sha256: Sha256): Finding {
  const tell = (status: Finding['status'], says: string): Finding => ({ check: 'kept checkpoint', status, about, says });
  if (kept.size > now.size) {
    return tell('fails', `You kept a checkpoint over ${kept.size} entries, and this pack knows only ${now.size}. The pack is older than your checkpoint, `
      + 'or the ledger was set back. Ask for a pack made now.');
  }
  if (kept.size === 0) return tell('unproven', 'You kept the checkpoint of an empty ledger, which shows nothing about a later one.');
  const proof = kept.size === now.size ? [] : consistency.find(({ oldSize }) => oldSize === kept.size)?.proof;
  if (!proof) {
    return tell('fails', `The pack does not show that the ledger of ${now.size} entries begins with the ${kept.size} of your checkpoint. `
      + 'Ask for a pack made for your checkpoint.');
  }
  const verdict = verifyConsistency({ oldSize: kept.size, oldRoot: kept.root, newSize: now.size, newRoot: now.root, proof }, sha256);
  return verdict.holds
    ? tell('holds', `The ledger begins with the ${kept.size} entries of your checkpoint: none of them was changed, dropped or moved since.`)
    : tell('fails', `The ledger does not begin with the ${kept.size} entries of your checkpoint: ${verdict.why}. History was rewritten.`);
}

function checkEntries({ checkpoint, entries, manifest }: ReadPack, sha256: Sha256): Finding[] {
  const now = readCheckpoint(checkpoint);
  if (!now) return [];
  const failures = entries.flatMap(({ entry, index, proof }) => {
    const about = `entry ${entry.id}`;
    if (entry.labId !== manifest.labId) return [{ about, says: 'The entry is of another lab.' }];
    const verdict = verifyInclusion({ index, size: now.size, leafHash: leafHash(entryLeaf(entry), sha256), proof, root: now.root }, sha256);
    return verdict.holds ? [] : [{ about, says: `The entry is not in the ledger at place ${index}: ${verdict.why}.` }];
  });
  return verdictOf('entries', PATHS.entries, failures, `All ${entries.length} entries are in the ledger of the checkpoint, each at its place.`);
}

function checkRecords({ records, entries, manifest }: ReadPack): Finding[] {
  const bySubject = groupBy(entries.map(({ entry }) => entry), ({ subjectId }) => subjectId);
  const failures = records.flatMap((read) => {
    const about = `${read.record.kind} ${read.record.id}`;
    const why = whyNotEntered(read, bySubject.get(read.record.id) ?? []);
    return why ? [{ about, says: why }] : [];
  });
  const shown = new Set(records.map(({ record }) => record.id));
  if (!shown.has(manifest.subject.id)) failures.push({ about: PATHS.manifest, says: 'The pack does not show the very record that it is about.' });
  const holds = `All ${records.length} records have the content that the ledger entered, and the author.`;
  const findings = verdictOf('records', PATHS.records, failures, holds);
  const hidden = entries.filter(({ entry }) => !shown.has(entry.subjectId)).length;
  return hidden === 0 ? findings : [...findings, {
    check: 'records', status: 'unproven', about: PATHS.entries, says: `${hidden} entries are of records that the pack does not show.`,
  }];
}

/** What speaks against a record, given the entries about it. */
function whyNotEntered({ record, contentHash }: ReadRecord, entries: readonly LedgerEntry[]): string | undefined {
  if (entries.length === 0) return 'The pack shows no ledger entry for it.';
  const [other] = entries.filter((entry) => entry.contentHash !== contentHash);
  if (other) return `Its content is not what the ledger entered: it hashes to ${contentHash}, the entry says ${other.contentHash}.`;
  if (entries.some(({ subjectKind }) => subjectKind !== record.kind)) return 'The ledger entered it as another kind of record.';
  return entries.some(({ actorId }) => actorId === record.recordedBy) ? undefined : 'The ledger names somebody else as its author.';
}

function checkLineage({ records, edges, manifest }: ReadPack): Finding[] {
  const isSummary = manifest.depth === 'summary';
  const kinds = new Map(records.map(({ record }) => [record.id, record.kind]));
  const failures: Failure[] = edges.flatMap(({ fromKind, fromId, toKind, toId }) => {
    const about = `${fromKind} ${fromId}`;
    if (kinds.get(fromId) !== fromKind) return [{ about, says: 'The lineage names this record, but the pack does not show it.' }];
    return isSummary || kinds.get(toId) === toKind ? [] : [{ about, says: `It rests on ${toKind} ${toId}, which the pack does not show.` }];
  });
  const edgesFrom = groupBy(edges, ({ fromId }) => fromId);
  for (const { record } of records) {
    if (!record.uses) continue;
    const said = record.uses.map(({ kind, id, role }) => useText({ toKind: kind, toId: id, role })).sort().join('\n');
    if (said !== (edgesFrom.get(record.id) ?? []).map(useText).sort().join('\n')) {
      failures.push({ about: `${record.kind} ${record.id}`, says: 'What the lineage says it rests on is not what the record says.' });
    }
  }
  const kept = edges.filter(({ toId, toKind }) => kinds.get(toId) !== toKind).length;
  if (kept > 0) {
    return [
      ...verdictOf('lineage', PATHS.lineage, failures, 'What the statement says it rests on is what the ledger entered.'),
      {
        check: 'lineage', status: 'unproven', about: PATHS.lineage,
        says: `This is a summary: ${kept === 1 ? 'one record' : `${kept} records`} that it rests on ${kept === 1 ? 'is' : 'are'} named, but kept by the lab. Ask the lab for the raw data where the figures themselves are in doubt.`,
      },
    ];
  }
  const silent = records.filter(({ record }) => !record.uses).length;
  const holds = `Whatever a record in the pack rests on, by its ${edges.length} lines of lineage, is in the pack.`;
  const findings = verdictOf('lineage', PATHS.lineage, failures, holds);
  return silent === 0 ? findings : [...findings, {
    check: 'lineage', status: 'unproven', about: PATHS.lineage,
    says: `${silent} records do not say in their own content what they rest on: for them the ledger does not vouch for the lineage.`,
  }];
}

function checkTables({ files, records, dictionaries, manifest }: ReadPack): Finding[] {
  const rows = records.map(({ record }) => record);
  const failures = dictionaries.flatMap((dictionary) => {
    const about = tablePath(dictionary.kind);
    const same = sameFile(files.get(about), () => tableFile(dictionary, rows));
    return same ? [] : [{ about, says: 'The table does not say what the records say.' }];
  });
  if (!sameFile(files.get(PATHS.tables), () => jsonFile(tableDescriptor(manifest.subject.id, dictionaries)))) {
    failures.push({ about: PATHS.tables, says: 'The dictionary of the tables is not in the form of this version.' });
  }
  return [
    ...verdictOf('tables', PATHS.tables, failures, `The ${dictionaries.length} tables say, cell by cell, what the records say.`),
    { check: 'tables', status: 'unproven', about: PATHS.tables, says: 'Titles, descriptions and units of the columns are not part of the ledger.' },
  ];
}

function checkProvenance({ files, records, entries, edges, agents }: ReadPack): Finding[] {
  const same = sameFile(files.get(PATHS.prov), () => jsonFile(provDocument(records.map(({ record }) => record), entries, edges, agents)));
  const failures = same ? [] : [{ about: PATHS.prov, says: 'The provenance does not say what records, entries and lineage say.' }];
  return verdictOf('provenance', PATHS.prov, failures, 'The provenance says what records, entries and lineage say.');
}

/** Folder of stored files, each called by the SHA-256 of its bytes and what kind of file it is. */
const STORED = /^files\/([0-9a-f]{64})\.[a-z0-9]+$/;

/** Files that records name by their hash: the ledger covers the record, and the record the bytes. */
function checkStoredFiles({ manifest, records }: ReadPack): Finding[] {
  const named = new Set(records.filter(({ record }) => record.kind === 'stored_file').map(({ record }) => record['sha256']));
  return manifest.files.flatMap(({ path, sha256 }): Finding[] => {
    const hash = STORED.exec(path)?.[1];
    if (!hash) return [];
    if (hash !== sha256) return [{ check: 'reading', status: 'fails', about: path, says: 'Its bytes are not those that its name says.' }];
    return named.has(hash)
      ? [{ check: 'reading', status: 'holds', about: path, says: 'Its bytes are those that a record names by their hash.' }]
      : [{ check: 'reading', status: 'unproven', about: path, says: 'No record in this pack names it.' }];
  });
}

/** What stands in the pack for reading only. */
function tellReading({ manifest, dictionaries }: ReadPack): Finding[] {
  const checked = new Set<string>([...Object.values(PATHS), ...dictionaries.map(({ kind }) => tablePath(kind))]);
  checked.delete(PATHS.crate);
  checked.delete(PATHS.agents);
  return manifest.files.filter(({ path }) => !checked.has(path) && !STORED.test(path)).map(({ path }) => ({
    check: 'reading', status: 'unproven', about: path,
    says: path === PATHS.agents
      ? 'The ledger knows who recorded by id; the names beside the ids are the lab\'s word.'
      : 'This file is for reading. The ledger does not cover it: where it matters, compare it with the records.',
  }));
}

function sameFile(file: Uint8Array | undefined, again: () => Uint8Array): boolean {
  let expected: Uint8Array;
  try {
    expected = again();
  } catch (error) {
    if (error instanceof InputError) return false;
    throw error;
  }
  return file?.length === expected.length && expected.every((byte, i) => byte === file[i]);
}

function readCheckpoint(text: string): ReadCheckpoint | undefined {
  try {
    return parseCheckpoint(text);
  } catch (error) {
    if (error instanceof InputError) return undefined;
    throw error;
  }
}

function groupBy<T>(items: readonly T[], keyOf: (item: T) => string): ReadonlyMap<string, readonly T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const group = groups.get(keyOf(item));
    if (group) group.push(item);
    else groups.set(keyOf(item), [item]);
  }
  return groups;
}

function useText({ toKind, toId, role }: Pick<LineageEdge, 'toKind' | 'toId' | 'role'>): string {
  return `${toKind} ${toId} ${role}`;
}

function namesOf(keys: readonly VerifierKey[]): string {
  return keys.map(({ name, keyId }) => `${name}+${keyId}`).join(' and ');
}
