import { Module } from '@nestjs/common';
import { DueResolver } from './due.resolver.js';

@Module({ providers: [DueResolver] })
export class DueModule {}
