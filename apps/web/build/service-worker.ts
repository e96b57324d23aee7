import { createHash } from 'node:crypto';
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join, relative, sep } from 'node:path';
import { rolldown } from 'rolldown';
import type { Plugin } from 'vite';

/** What the server answers itself: see OWN_PATHS in apps/api/src/platform/http/http.ts. Nothing of it is ever kept by the worker. */
export const OWN_PATHS = ['/graphql', '/files', '/labels', '/calendar', '/papers', '/healthz'];

const FILE = 'service-worker.js';

interface Shell {
  readonly version: string;
  readonly files: readonly string[];
  readonly own: readonly string[];
}

/** The files of a build as the browser asks for them, and a name that changes when one of them does. */
export function shellOf(folder: string): Shell {
  const paths = readdirSync(folder, { recursive: true, withFileTypes: true })
    .flatMap((entry) => (entry.isFile() ? [relative(folder, join(entry.parentPath, entry.name)).split(sep).join('/')] : []))
    .filter((path) => path !== FILE && !path.endsWith('.map'))
    .sort();
  const hash = createHash('sha256');
  for (const path of paths) hash.update(path).update('\0').update(createHash('sha256').update(readFileSync(join(folder, path))).digest());
  return { version: hash.digest('hex').slice(0, 16), files: paths.map((path) => (path === 'index.html' ? '/' : `/${path}`)), own: OWN_PATHS };
}

/** After the pages are built: one script beside them that serves these files without the server. */
export function serviceWorker(entry: string): Plugin {
  return {
    name: 'threadleaf-service-worker',
    apply: 'build',
    async writeBundle({ dir }) {
      if (!dir) throw new Error('The pages are built into no folder.');
      const bundle = await rolldown({ input: entry, logLevel: 'silent' });
      const { output: [{ code }] } = await bundle.generate({ format: 'iife', minify: true });
      await bundle.close();
      writeFileSync(join(dir, FILE), `const SHELL = ${JSON.stringify(shellOf(dir))};\n${code}`);
    },
  };
}
