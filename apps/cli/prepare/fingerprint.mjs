import { createHash } from 'node:crypto';
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { packageRoot } from './package-root.mjs';

/** All files below `folder` (relative to the package root, slashes forward) that `wanted` accepts, in a fixed order. */
export function filesBelow(folder, wanted = () => true) {
  if (!existsSync(join(packageRoot, folder))) return [];
  const found = [];
  for (const entry of readdirSync(join(packageRoot, folder), { withFileTypes: true })) {
    const path = `${folder}/${entry.name}`;
    if (entry.isDirectory()) {
      if (entry.name !== 'node_modules') found.push(...filesBelow(path, wanted));
    } else if (wanted(path)) {
      found.push(path);
    }
  }
  return found.sort();
}

/** The content hash of each file that exists: { path: sha256 }. Content, not time: a checkout changes times at will. */
export function hashFiles(paths) {
  const hashes = {};
  for (const path of paths) {
    const full = join(packageRoot, path);
    if (existsSync(full)) hashes[path] = createHash('sha256').update(readFileSync(full)).digest('hex');
  }
  return hashes;
}

/** One hash for a set of files and anything else that decides the outcome, such as a compiler's version. */
export function fingerprint(paths, ...others) {
  return createHash('sha256').update(JSON.stringify([hashFiles(paths), others])).digest('hex');
}
