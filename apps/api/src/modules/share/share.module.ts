import { Module } from '@nestjs/common';
import { LedgerModule } from '../ledger/ledger.module.js';
import { StoredFileModule } from '../stored-file/stored-file.module.js';
import { AdoptionService } from './adoption.service.js';
import { CalibrationOriginResolver, CalibrationShareResolver, ShareGrantResolver, ShareRootResolver, SharedCalibrationResolver, VersionSharesResolver } from './share.resolver.js';
import { ShareService } from './share.service.js';

@Module({
  imports: [LedgerModule, StoredFileModule],
  providers: [
    ShareService, AdoptionService,
    ShareRootResolver, CalibrationShareResolver, ShareGrantResolver, SharedCalibrationResolver, VersionSharesResolver, CalibrationOriginResolver,
  ],
  exports: [AdoptionService],
})
export class ShareModule {}
