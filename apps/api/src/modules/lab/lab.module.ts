import { Module } from '@nestjs/common';
import { LabResolver } from './lab.resolver.js';
import { LabService } from './lab.service.js';

@Module({ providers: [LabService, LabResolver], exports: [LabService] })
export class LabModule {}
