import { Module } from '@nestjs/common';
import { ThreadModule } from '../thread/thread.module.js';
import { EvidencePackResolver } from './evidence-pack.resolver.js';
import { EvidencePackService } from './evidence-pack.service.js';
import { LedgerEntryResolver, LedgerPageResolver } from './ledger-page.resolver.js';
import { LedgerResolver } from './ledger.resolver.js';

@Module({ imports: [ThreadModule], providers: [EvidencePackService, EvidencePackResolver, LedgerResolver, LedgerPageResolver, LedgerEntryResolver], exports: [EvidencePackService] })
export class LedgerModule {}
