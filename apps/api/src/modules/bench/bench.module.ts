import { Module } from '@nestjs/common';
import { AmendmentModule } from '../amendment/amendment.module.js';
import { WaterModule } from '../water/water.module.js';
import { BenchResolver, DiscWeighingsResolver, DryingRunResolver, MeterReadingResolver, WeighingResolver } from './bench.resolver.js';
import { BenchService } from './bench.service.js';

@Module({
  imports: [AmendmentModule, WaterModule],
  providers: [BenchService, BenchResolver, DryingRunResolver, WeighingResolver, MeterReadingResolver, DiscWeighingsResolver],
  exports: [BenchService],
})
export class BenchModule {}
