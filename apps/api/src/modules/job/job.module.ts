import { Module } from '@nestjs/common';
import { JobResolver } from './job.resolver.js';

@Module({ providers: [JobResolver] })
export class JobModule {}
