import { Module } from '@nestjs/common';
import { FaultResolver } from './fault.resolver.js';

@Module({ providers: [FaultResolver] })
export class FaultModule {}
