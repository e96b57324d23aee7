import { unzipSync, zipSync } from 'fflate';
import { InputError } from '#libs/quantity';
import { isPackPath } from './manifest.js';
import { PACK_REMEDY } from './text.js';
import type { PackFiles } from './layout.js';

/** A pack that unpacks to more is refused before it is unpacked: a small ZIP can hold an endless file. */
export interface UnzipLimits {
  readonly maxBytes: number;
  readonly maxFiles: number;
}

export const UNZIP_LIMITS: UnzipLimits = { maxBytes: 512 * 1024 * 1024, maxFiles: 2000 };

/** One ZIP of the pack's files, in ascending order of path. The same files give the same bytes on every machine. */
export function zipPack(files: PackFiles): Uint8Array {
  const paths = [...files.keys()].sort();
  // ZIP keeps local time and starts in 1980; the time of making stands in the manifest.
  const mtime = new Date(1980, 0, 1);
  return zipSync(Object.fromEntries(paths.map((path) => [path, files.get(path) as Uint8Array])), { mtime, level: 6 });
}

/**
 * The files in a ZIP, all in memory: nothing is written.
 *
 * @throws InputError `BAD_ZIP` when it is damaged or no ZIP, `BAD_PATH` for a path outside of a pack's rules, `TWICE`
 *   for two files of one path (of which readers would choose differently), `TOO_LARGE`
 */
export function unzipPack(zip: Uint8Array, limits: UnzipLimits = UNZIP_LIMITS): PackFiles {
  const paths = new Set<string>();
  let total = 0;
  const admit = ({ name, originalSize, compression }: { name: string; originalSize: number; compression: number }): boolean => {
    // Other programs write an entry for each folder when they zip a pack again; it holds nothing.
    if (name.endsWith('/') && originalSize === 0) return false;
    if (!isPackPath(name)) throw new InputError('BAD_PATH', 'zip', `it holds a file called ${JSON.stringify(name)}`, PACK_REMEDY);
    if (paths.has(name)) throw new InputError('TWICE', name, 'the ZIP holds two files of this path', PACK_REMEDY);
    if (compression !== 0 && compression !== 8) {
      throw new InputError('BAD_ZIP', name, 'packed by a method that is not deflate', PACK_REMEDY);
    }
    paths.add(name);
    total += originalSize;
    if (paths.size > limits.maxFiles || total > limits.maxBytes) {
      throw new InputError('TOO_LARGE', 'zip', `it unpacks to more than ${limits.maxFiles} files or ${limits.maxBytes} bytes`, PACK_REMEDY);
    }
    return true;
  };
  try {
    return new Map(Object.entries(unzipSync(zip, { filter: admit })));
  } catch (error) {
    if (error instanceof InputError) throw error;
    const reason = error instanceof Error ? error.message : String(error);
    throw new InputError('BAD_ZIP', 'zip', `the file is no whole ZIP (${reason})`, PACK_REMEDY);
  }
}
