import { Global, Module } from '@nestjs/common';
import { NoticeResolver } from './notice.resolver.js';
import { Notices } from './notices.service.js';

/** Any use case may have something to tell. */
@Global()
@Module({ providers: [Notices, NoticeResolver], exports: [Notices] })
export class NoticeModule {}
