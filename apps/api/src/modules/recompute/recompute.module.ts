import { Module } from '@nestjs/common';
import { RecomputeAllService } from './recompute-all.service.js';
import { RecomputeResolver, RecomputeRunResolver } from './recompute.resolver.js';
import { RecomputeService } from './recompute.service.js';

@Module({ providers: [RecomputeService, RecomputeAllService, RecomputeResolver, RecomputeRunResolver] })
export class RecomputeModule {}
