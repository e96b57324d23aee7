import { Module } from '@nestjs/common';
import { ThreadResolver } from './thread.resolver.js';
import { ThreadService } from './thread.service.js';

@Module({ providers: [ThreadService, ThreadResolver], exports: [ThreadService] })
export class ThreadModule {}
