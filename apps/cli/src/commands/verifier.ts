import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Command } from 'commander';
import { codeOf, OperatorFailure } from '../failure.js';
import { packageRoot } from '../package-root.js';

export function register(program: Command): void {
  program
    .command('verifier')
    .description('write the verifier of evidence packs as one file that needs only Node')
    .option('--out <file>', 'where to write it', 'verify.mjs')
    .action(verifier);
}

function verifier({ out }: { out: string }): void {
  const content = readFileSync(join(packageRoot, 'dist/verify.mjs'));
  try {
    writeFileSync(out, content, { flag: 'wx' });
  } catch (error) {
    if (codeOf(error) === 'EEXIST') throw new OperatorFailure(`${out} is there already and was left as it is. Choose another name with --out.`);
    throw new OperatorFailure(`${out} cannot be written (${codeOf(error)}). Choose another place with --out.`);
  }
  console.log(`${out}: ${content.length} bytes, SHA-256 ${createHash('sha256').update(content).digest('hex')}\nCheck a pack anywhere with: node ${out} pack.zip`);
}
