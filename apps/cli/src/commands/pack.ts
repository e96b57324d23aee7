import { createHash } from 'node:crypto';
import { writeFileSync } from 'node:fs';
import type { Command } from 'commander';
import { InputError } from '#libs/quantity';
import { parseCheckpoint } from '#libs/ledger';
import { OperatorFailure, codeOf } from '../failure.js';
import { kindOf } from '../kind-of.js';
import { openSession, withSession, type SessionOptions } from '../session.js';
import { readKept } from './check.js';

interface PackOptions extends SessionOptions {
  readonly out?: string;
  readonly checkpoint: readonly string[];
}

interface EvidencePack {
  readonly fileName: string;
  readonly base64: string;
  readonly sha256: string;
}

export function register(program: Command): void {
  withSession(program
    .command('pack')
    .description('write the evidence pack of a decision or certificate: one ZIP with everything it rests on and the proofs')
    .argument('<id>', 'id of the decision or certificate')
    .option('--out <file>', 'where to write it; a name of its own in this folder when not given')
    .option('--checkpoint <file...>', 'checkpoints that the reader kept: the pack then proves that the ledger still begins with them', []))
    .action(pack);
}

async function pack(id: string, options: PackOptions): Promise<void> {
  const keptSizes = options.checkpoint.map(sizeOf);
  const client = await openSession(options);
  const kind = await kindOf(client, id);
  const { evidencePack } = await client.ask<{ evidencePack: EvidencePack }>(
    'query ($kind: String!, $id: UUID!, $keptSizes: [Int!]!) { evidencePack(kind: $kind, id: $id, keptSizes: $keptSizes) { fileName base64 sha256 } }',
    { kind, id, keptSizes },
  );
  const bytes = Buffer.from(evidencePack.base64, 'base64');
  if (createHash('sha256').update(bytes).digest('hex') !== evidencePack.sha256) {
    throw new OperatorFailure('The pack was damaged on its way here; nothing was written. Try again.');
  }
  const out = options.out ?? evidencePack.fileName;
  try {
    writeFileSync(out, bytes, { flag: 'wx' });
  } catch (error) {
    if (codeOf(error) === 'EEXIST') throw new OperatorFailure(`${out} is there already and was left as it is. Choose another name with --out.`);
    throw new OperatorFailure(`${out} cannot be written (${codeOf(error)}). Choose another place with --out.`);
  }
  console.log(`${out}: ${bytes.length} bytes, SHA-256 ${evidencePack.sha256}\nCheck it anywhere with: threadleaf verify ${out}`);
}

function sizeOf(file: string): number {
  try {
    return parseCheckpoint(readKept(file)).size;
  } catch (error) {
    if (error instanceof InputError) throw new OperatorFailure(`${file} is no checkpoint: ${error.message}`);
    throw error;
  }
}
