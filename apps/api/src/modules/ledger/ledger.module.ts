import { Module } from '@nestjs/common';
import { LedgerEntryResolver, LedgerResolver } from './ledger.resolver.js';

@Module({ providers: [LedgerResolver, LedgerEntryResolver] })
export class LedgerModule {}
