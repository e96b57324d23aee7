import { Module } from '@nestjs/common';
import { ThreadNodeResolver, ThreadResolver } from './thread.resolver.js';
import { ThreadService } from './thread.service.js';

@Module({ providers: [ThreadService, ThreadResolver, ThreadNodeResolver] })
export class ThreadModule {}
