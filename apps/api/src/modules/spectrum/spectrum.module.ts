import { Module } from '@nestjs/common';
import { SpectrumResolver, SpectrumRootResolver } from './spectrum.resolver.js';
import { SpectrumService } from './spectrum.service.js';

@Module({ providers: [SpectrumService, SpectrumRootResolver, SpectrumResolver] })
export class SpectrumModule {}
