import { Module } from '@nestjs/common';
import { HydrationResolver, HydrationRootResolver } from './hydration.resolver.js';
import { HydrationService } from './hydration.service.js';

@Module({ providers: [HydrationService, HydrationRootResolver, HydrationResolver] })
export class HydrationModule {}
