/**
 * Module hooks that let plain Node run the libraries' TypeScript: `./name.js` resolves to `./name.ts` where only that
 * exists, and each `.ts` file is compiled in memory by the same compiler that builds the program.
 */
import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { transformSync } from '@swc/core';

const compilerOptions = {
  jsc: { parser: { syntax: 'typescript' }, target: 'es2023' },
  module: { type: 'es6' },
  sourceMaps: 'inline',
  swcrc: false,
};

export async function resolve(specifier, context, next) {
  if (specifier.startsWith('.') && specifier.endsWith('.js')) {
    const source = new URL(specifier.replace(/\.js$/, '.ts'), context.parentURL);
    if (source.protocol === 'file:' && existsSync(source)) return { url: source.href, shortCircuit: true };
  }
  return next(specifier, context);
}

export async function load(url, context, next) {
  if (!url.startsWith('file:') || !url.endsWith('.ts')) return next(url, context);
  const filename = fileURLToPath(url);
  const { code } = transformSync(readFileSync(filename, 'utf8'), { ...compilerOptions, filename });
  return { format: 'module', source: code, shortCircuit: true };
}
