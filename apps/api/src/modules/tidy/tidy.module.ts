import { Module } from '@nestjs/common';
import { TidyResolver } from './tidy.resolver.js';

@Module({ providers: [TidyResolver] })
export class TidyModule {}
