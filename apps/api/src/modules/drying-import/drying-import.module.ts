import { Module } from '@nestjs/common';
import { WaterModule } from '../water/water.module.js';
import { DryingImportResolver } from './drying-import.resolver.js';
import { DryingImportService } from './drying-import.service.js';

@Module({ imports: [WaterModule], providers: [DryingImportService, DryingImportResolver] })
export class DryingImportModule {}
