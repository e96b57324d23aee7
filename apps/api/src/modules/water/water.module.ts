import { Module } from '@nestjs/common';
import { DiscWaterResolver, RwcSeriesResolver, WaterResolver } from './water.resolver.js';
import { WaterService } from './water.service.js';

@Module({ providers: [WaterService, WaterResolver, RwcSeriesResolver, DiscWaterResolver], exports: [WaterService] })
export class WaterModule {}
