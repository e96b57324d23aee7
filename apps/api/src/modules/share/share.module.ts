import { Module } from '@nestjs/common';
import { LedgerModule } from '../ledger/ledger.module.js';
import { StoredFileModule } from '../stored-file/stored-file.module.js';
import { AdoptionService } from './adoption.service.js';
import { CommentService } from './comment.service.js';
import { ShareNews } from './share-news.js';
import { CalibrationOriginResolver, CalibrationShareResolver, ShareGrantResolver, ShareRootResolver, SharedCalibrationResolver, VersionSharesResolver } from './share.resolver.js';
import { ShareService } from './share.service.js';
import { SharedTalkResolver, TalkRootResolver, VersionTalkResolver } from './talk.resolver.js';

@Module({
  imports: [LedgerModule, StoredFileModule],
  providers: [
    ShareService, AdoptionService, CommentService, ShareNews,
    TalkRootResolver, SharedTalkResolver, VersionTalkResolver,
    ShareRootResolver, CalibrationShareResolver, ShareGrantResolver, SharedCalibrationResolver, VersionSharesResolver, CalibrationOriginResolver,
  ],
  exports: [AdoptionService],
})
export class ShareModule {}
