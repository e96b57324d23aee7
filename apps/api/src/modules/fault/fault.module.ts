import { Module } from '@nestjs/common';
import { FaultResolver } from './fault.resolver.js';
import { FaultService } from './fault.service.js';

@Module({ providers: [FaultService, FaultResolver] })
export class FaultModule {}
