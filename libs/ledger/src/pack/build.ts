import { InputError } from '#libs/quantity';
import { canonicalize } from '../canonical-json.js';
import { defaultSha256, type Sha256 } from '../content-hash.js';
import { formatVerifierKey } from '../signed-note.js';
import { crateMetadata } from './crate.js';
import { PACK_FORMAT, PACK_VERSION, PATHS, SHARED_PACK_VERSION, type PackContents, type PackFiles } from './layout.js';
import { listed, type Manifest, type ManifestFile } from './manifest.js';
import { provDocument } from './prov.js';
import { tableDescriptor, tableFile, tablePath } from './table.js';
import { hashesToText, jsonFile, jsonLinesFile } from './text.js';
import { utf8Bytes } from '../utf8.js';

interface WrittenFile {
  readonly path: string;
  readonly bytes: Uint8Array;
  readonly mediaType: string;
  readonly title: string;
}

const JSON_TYPE = 'application/json';
const LINES_TYPE = 'application/jsonl';

/**
 * The files of an evidence pack. The same contents give the same bytes, in whatever order they came.
 *
 * It packs what it is given and proves nothing: {@link sealPack} and then {@link verifyPack} over the result belong in
 * every caller, before the pack leaves the house.
 *
 * @throws InputError `BAD_PATH`, `TWICE` (two files of one path), `NO_COLUMN`, and those of {@link canonicalize}
 */
export function buildPack(contents: PackContents, sha256: Sha256 = defaultSha256): PackFiles {
  const written = [...proofFiles(contents), ...contents.reading];
  const parts = written.map(({ path, bytes, mediaType, title }) => listed(path, bytes, mediaType, title, sha256)).sort(byPath);
  const crate = jsonFile(crateMetadata(contents, parts));
  const files = [...parts, listed(PATHS.crate, crate, 'application/ld+json', 'Description as RO-Crate', sha256)].sort(byPath);
  const manifest: Manifest = {
    format: PACK_FORMAT, ...(contents.depth ? { version: SHARED_PACK_VERSION, depth: contents.depth } : { version: PACK_VERSION }), subject: contents.subject, labId: contents.labId, origin: contents.origin,
    createdAt: contents.createdAt, madeBy: contents.madeBy, files,
  };
  const pack = new Map<string, Uint8Array>([[PATHS.manifest, jsonFile(manifest)], [PATHS.crate, crate]]);
  for (const { path, bytes } of written) {
    if (pack.has(path)) throw new InputError('TWICE', path, 'the pack already has a file of this path', 'Give the file another name.');
    pack.set(path, bytes);
  }
  return pack;
}

/** Everything that a verifier reads or makes again. */
function proofFiles(contents: PackContents): WrittenFile[] {
  const records = [...contents.records].sort((a, b) => compare(`${a.kind} ${a.id}`, `${b.kind} ${b.id}`));
  const entries = [...contents.entries].sort((a, b) => a.index - b.index);
  const edges = [...contents.edges].sort((a, b) => compare(canonicalize(a), canonicalize(b)));
  const agents = [...contents.agents].sort((a, b) => compare(a.id, b.id));
  const keys = contents.keys.map(({ key, firstSize, lastSize, change = null }) =>
    ({ key: formatVerifierKey(key), firstSize, lastSize, change }));
  return [
    { path: PATHS.records, bytes: jsonLinesFile(records), mediaType: LINES_TYPE, title: 'Facts and results, one a line' },
    { path: PATHS.lineage, bytes: jsonLinesFile(edges), mediaType: LINES_TYPE, title: 'What rests on what' },
    { path: PATHS.agents, bytes: jsonFile(agents), mediaType: JSON_TYPE, title: 'Who recorded' },
    {
      path: PATHS.entries, mediaType: LINES_TYPE, title: 'Ledger entries with their inclusion proofs',
      bytes: jsonLinesFile(entries.map(({ entry, index, proof }) => ({ entry, index, proof: hashesToText(proof) }))),
    },
    { path: PATHS.checkpoint, bytes: utf8Bytes(contents.checkpoint), mediaType: 'text/plain', title: 'Signed checkpoint of the ledger' },
    { path: PATHS.keys, bytes: jsonFile(keys), mediaType: JSON_TYPE, title: 'Public keys of the ledger' },
    {
      path: PATHS.consistency, mediaType: LINES_TYPE, title: 'Proofs that earlier checkpoints lead to this one',
      bytes: jsonLinesFile([...contents.consistency].sort((a, b) => a.oldSize - b.oldSize)
        .map(({ oldSize, proof }) => ({ oldSize, proof: hashesToText(proof) }))),
    },
    {
      path: PATHS.tables, bytes: jsonFile(tableDescriptor(contents.subject.id, contents.tables)), mediaType: JSON_TYPE,
      title: 'Dictionary of the tables',
    },
    ...contents.tables.map((dictionary) => ({
      path: tablePath(dictionary.kind), bytes: tableFile(dictionary, records), mediaType: 'text/csv', title: dictionary.title,
    })),
    {
      path: PATHS.prov, bytes: jsonFile(provDocument(records, entries, edges, agents)), mediaType: JSON_TYPE,
      title: 'The thread as PROV-JSON',
    },
  ];
}

function byPath(a: ManifestFile, b: ManifestFile): number {
  return compare(a.path, b.path);
}

/** By UTF-16 code units, the same on every machine, unlike localeCompare. */
function compare(a: string, b: string): number {
  return a < b ? -1 : Number(a > b);
}
