import { Module } from '@nestjs/common';
import { OvenCycleResolver, OvenRootResolver } from './oven.resolver.js';
import { OvenService } from './oven.service.js';

@Module({ providers: [OvenService, OvenRootResolver, OvenCycleResolver] })
export class OvenModule {}
