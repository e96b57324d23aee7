import { Module } from '@nestjs/common';
import { LabModule } from '../lab/lab.module.js';
import { MeResolver, SecondFactorResolver } from './second-factor.resolver.js';

@Module({ imports: [LabModule], providers: [SecondFactorResolver, MeResolver] })
export class SecondFactorModule {}
