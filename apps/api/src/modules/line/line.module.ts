import { Module } from '@nestjs/common';
import { InstrumentLineResolver, LineResolver } from './line.resolver.js';
import { LineService } from './line.service.js';

@Module({ providers: [LineService, LineResolver, InstrumentLineResolver] })
export class LineModule {}
