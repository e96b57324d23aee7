import { Module } from '@nestjs/common';
import { AmendmentModule } from '../amendment/amendment.module.js';
import { WaterModule } from '../water/water.module.js';
import { PreflightResolver, PreflightRootResolver } from './preflight.resolver.js';
import { PreflightService } from './preflight.service.js';
import { BenchResolver, DiscWeighingsResolver, DryingRunResolver, MeterReadingResolver, RigLampResolver, RwcNowResolver, WeighingResolver } from './bench.resolver.js';
import { BenchService } from './bench.service.js';

@Module({
  imports: [AmendmentModule, WaterModule],
  providers: [BenchService, PreflightService, BenchResolver, PreflightResolver, PreflightRootResolver, DryingRunResolver, RigLampResolver, RwcNowResolver, WeighingResolver, MeterReadingResolver, DiscWeighingsResolver],
  exports: [BenchService],
})
export class BenchModule {}
