import { InputError } from '#libs/quantity';
import { defaultSha256, toHex, type Sha256 } from '../content-hash.js';
import { COUNT, HASH_HEX, ID, MOMENT, TEXT, UUID, WORD, requireShape, shapeOf } from '../shape.js';
import { PACK_FORMAT, PACK_VERSION, PATHS, SHARED_PACK_VERSION, type PackDepth } from './layout.js';
import { PACK_REMEDY, readJson } from './text.js';

/** The list of a pack's files, with what the pack is about. */
export interface Manifest {
  readonly format: typeof PACK_FORMAT;
  readonly version: typeof PACK_VERSION | typeof SHARED_PACK_VERSION;
  /** From version 2 on. */
  readonly depth?: PackDepth;
  readonly subject: { readonly kind: string; readonly id: string };
  readonly labId: string;
  readonly origin: string;
  readonly createdAt: string;
  readonly madeBy: string;
  /** Every file but the manifest itself and its seal, in ascending order of path. */
  readonly files: readonly ManifestFile[];
}

export interface ManifestFile {
  readonly path: string;
  readonly bytes: number;
  readonly sha256: string;
  readonly mediaType: string;
  readonly title: string;
}

const MANIFEST = shapeOf({
  format: [(value) => value === PACK_FORMAT, `${PACK_FORMAT}: this is no evidence pack`],
  version: [(value) => value === PACK_VERSION || value === SHARED_PACK_VERSION, `version ${PACK_VERSION} or ${SHARED_PACK_VERSION}; a newer Threadleaf may know others`],
  'depth?': [(value) => value === 'summary' || value === 'raw', 'summary or raw'],
  subject: [(value) => typeof value === 'object', 'an object'],
  labId: UUID,
  origin: TEXT,
  createdAt: MOMENT,
  madeBy: TEXT,
  files: [Array.isArray, 'a list of files'],
});
const SUBJECT = shapeOf({ kind: WORD, id: ID });
const FILE = shapeOf({
  path: [isPackPath, 'a path inside the pack'], bytes: COUNT, sha256: HASH_HEX, mediaType: TEXT, title: TEXT,
});

/**
 * May a file in a pack have this path? Relative, of plain names, so that unpacking it anywhere writes nowhere else,
 * and no two of them meet on a disk that does not tell upper from lower case.
 */
export function isPackPath(value: unknown): boolean {
  return typeof value === 'string' && value.length <= 200
    && value.split('/').every((name) => /^[a-z0-9](?:[a-z0-9._-]*[a-z0-9])?$/.test(name));
}

/** How a manifest lists a file. @throws InputError `BAD_PATH` */
export function listed(path: string, bytes: Uint8Array, mediaType: string, title: string, sha256: Sha256 = defaultSha256): ManifestFile {
  if (!isPackPath(path)) {
    throw new InputError('BAD_PATH', path, 'a pack cannot hold a file of this path',
      'Use lower-case letters, digits, dot, hyphen and underscore, with / between folders.');
  }
  return { path, bytes: bytes.length, sha256: toHex(sha256(bytes)), mediaType, title };
}

/** Reads the manifest, strictly. @throws InputError `BAD_PACK` and those of {@link parseCanonical} */
export function readManifest(bytes: Uint8Array): Manifest {
  const place = PATHS.manifest;
  const manifest = requireShape(readJson(place, bytes), MANIFEST, 'BAD_PACK', place, PACK_REMEDY) as unknown as Manifest;
  if ((manifest.version === SHARED_PACK_VERSION) !== (manifest.depth !== undefined)) {
    throw new InputError('BAD_PACK', `${place}.depth`, 'a shared pack says its depth, and no other pack does', PACK_REMEDY);
  }
  requireShape(manifest.subject, SUBJECT, 'BAD_PACK', `${place}.subject`, PACK_REMEDY);
  manifest.files.forEach((file, i) => requireShape(file, FILE, 'BAD_PACK', `${place}.files[${i}]`, PACK_REMEDY));
  manifest.files.forEach(({ path }, i) => {
    const before = manifest.files[i - 1];
    if (before && before.path >= path) {
      throw new InputError('BAD_PACK', `${place}.files[${i}]`, 'the files are not in ascending order of path', PACK_REMEDY);
    }
  });
  return manifest;
}
