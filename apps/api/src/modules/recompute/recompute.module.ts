import { Module } from '@nestjs/common';
import { RecomputeResolver } from './recompute.resolver.js';
import { RecomputeService } from './recompute.service.js';

@Module({ providers: [RecomputeService, RecomputeResolver] })
export class RecomputeModule {}
