import { Module } from '@nestjs/common';
import { InstrumentCalibrationResolver, InstrumentCheckResolver, InstrumentResolver, InstrumentRootResolver, RigResolver } from './instrument.resolver.js';
import { InstrumentService } from './instrument.service.js';

@Module({
  providers: [InstrumentService, InstrumentRootResolver, InstrumentResolver, InstrumentCheckResolver, InstrumentCalibrationResolver, RigResolver],
  exports: [InstrumentService],
})
export class InstrumentModule {}
