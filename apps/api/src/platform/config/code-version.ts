import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { packageRoot } from './package-root.js';

function sourcesBelow(folder: string): string[] {
  return readdirSync(folder, { withFileTypes: true })
    .flatMap((entry) => (entry.isDirectory() ? sourcesBelow(join(folder, entry.name)) : [join(folder, entry.name)]))
    .filter((file) => file.endsWith('.ts'))
    .sort();
}

/** They draw and tell what was computed and compute nothing: a finer line is no other result. */
const NOT_COMPUTING = ['drawing', 'telling'];

/**
 * The name every result carries: package version and the first 12 hex digits of SHA-256 over the sources of the pure
 * libraries. The same inputs under the same name give the same bytes; a changed line of computing code changes the name.
 */
export const codeVersion: string = (() => {
  const { version } = JSON.parse(readFileSync(join(packageRoot, 'package.json'), 'utf8')) as { version: string };
  const hash = createHash('sha256');
  const libs = join(packageRoot, 'libs');
  for (const library of readdirSync(libs).filter((name) => !NOT_COMPUTING.includes(name)).sort()) {
    for (const file of sourcesBelow(join(libs, library, 'src'))) {
      hash.update(file.slice(libs.length).replaceAll('\\', '/')).update('\0').update(readFileSync(file));
    }
  }
  return `${version}+${hash.digest('hex').slice(0, 12)}`;
})();
