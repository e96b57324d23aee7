import { Module } from '@nestjs/common';
import { InstrumentCheckResolver, InstrumentResolver, InstrumentRootResolver, RigResolver } from './instrument.resolver.js';
import { InstrumentService } from './instrument.service.js';

@Module({
  providers: [InstrumentService, InstrumentRootResolver, InstrumentResolver, InstrumentCheckResolver, RigResolver],
  exports: [InstrumentService],
})
export class InstrumentModule {}
