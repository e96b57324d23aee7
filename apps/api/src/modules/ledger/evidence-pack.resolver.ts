import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import { formatVerifierKey } from '#libs/ledger';
import type { ThreadDirection } from '../../generated/schema.js';
import { packageRoot } from '../../platform/config/package-root.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { ledgerKeys, newestCheckpoint } from '../../platform/ledger/ledger-store.js';
import { originOf } from '../../platform/ledger/signer.js';
import { ThreadService } from '../thread/thread.service.js';
import { EvidencePackService } from './evidence-pack.service.js';
import { madeFile, type MadeFile } from './made-file.js';
import { materialOf } from './paper/material.js';
import { threadPaper } from './paper/thread-paper.js';

interface PackQuestion {
  readonly kind: string;
  readonly id: string;
  readonly keptSizes: readonly number[];
}

interface PaperQuestion {
  readonly kind: string;
  readonly id: string;
  readonly direction: ThreadDirection;
}

@Resolver()
export class EvidencePackResolver {
  constructor(
    private readonly packs: EvidencePackService,
    private readonly threads: ThreadService,
  ) {}

  @Query()
  async evidencePack(@Args() { kind, id, keptSizes }: PackQuestion, @Context() context: RequestContext): Promise<MadeFile> {
    await this.packs.prepare(context.member.labId);
    return this.packs.pack(await context.read(), { kind, id }, context.now, keptSizes);
  }

  @Query('threadPaper')
  async paper(@Args() { kind, id, direction }: PaperQuestion, @Context() context: RequestContext): Promise<MadeFile> {
    const tx = await context.read();
    const thread = await this.threads.thread(tx, { kind, id }, direction);
    const standing = { origin: originOf(tx.labId), checkpoint: (await newestCheckpoint(tx))?.note ?? null, keys: (await ledgerKeys(tx)).map(({ key }) => formatVerifierKey(key)) };
    const material = await materialOf(tx, thread, { direction, createdAt: context.now, standing, packed: false });
    return madeFile(`thread-${direction.toLowerCase()}-${kind.replaceAll('_', '-')}-${id}.pdf`, await threadPaper(material));
  }

  /** Built beside the server: see apps/cli/prepare/build.mjs. */
  @Query()
  async verifier(): Promise<MadeFile | null> {
    const content = await readFile(join(packageRoot, 'dist/verify.mjs')).catch(() => null);
    return content && madeFile('verify.mjs', content);
  }
}
