import type { PackRecord, ReadingFile } from '#libs/ledger';
import type { Tx } from '../../platform/database/database.js';
import { bytesOf } from './stored-file.repository.js';

/** Of stored files in one pack; the record of every file carries its hash whether the bytes come along or not. */
const MOST_PACKED_BYTES = 24 * 1024 * 1024;

const ENDINGS: Readonly<Record<string, string>> = {
  'image/png': 'png', 'image/jpeg': 'jpg', 'image/webp': 'webp', 'image/tiff': 'tif', 'application/pdf': 'pdf', 'application/zip': 'zip',
  'text/csv': 'csv', 'text/tab-separated-values': 'tsv', 'application/json': 'json', 'application/geo+json': 'geojson', 'chemical/x-jcamp-dx': 'jdx',
};

/** The bytes of the stored files among the records of a pack, smallest first, as many as the pack may carry. */
export async function storedFilesFor(tx: Tx, records: readonly PackRecord[]): Promise<ReadingFile[]> {
  const named = records.filter(({ kind }) => kind === 'stored_file') as unknown as { sha256: string; name: string; mediaType: string; sizeBytes: number }[];
  const files = [...new Map(named.map((file) => [file.sha256, file])).values()].sort((a, b) => a.sizeBytes - b.sizeBytes);
  const packed: ReadingFile[] = [];
  let left = MOST_PACKED_BYTES;
  for (const { sha256, name, mediaType, sizeBytes } of files) {
    left -= sizeBytes;
    if (left < 0) break;
    const bytes = await bytesOf(tx, sha256);
    if (bytes) packed.push({ path: `files/${sha256}.${ENDINGS[mediaType] ?? 'txt'}`, bytes: new Uint8Array(bytes), mediaType, title: `Stored file: ${name}` });
  }
  return packed;
}
