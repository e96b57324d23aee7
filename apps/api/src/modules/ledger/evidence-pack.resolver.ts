import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import { RequestContext } from '../../platform/graphql/context.js';
import { EvidencePackService, type EvidencePackView } from './evidence-pack.service.js';

interface PackQuestion {
  readonly kind: string;
  readonly id: string;
  readonly keptSizes: readonly number[];
}

@Resolver()
export class EvidencePackResolver {
  constructor(private readonly packs: EvidencePackService) {}

  @Query()
  async evidencePack(@Args() { kind, id, keptSizes }: PackQuestion, @Context() context: RequestContext): Promise<EvidencePackView> {
    await this.packs.prepare(context.member.labId);
    return this.packs.pack(await context.read(), { kind, id }, context.now, keptSizes);
  }
}
