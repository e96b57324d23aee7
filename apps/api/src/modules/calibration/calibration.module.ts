import { Module } from '@nestjs/common';
import { CalibrationResolver, CalibrationRootResolver, CalibrationVersionResolver } from './calibration.resolver.js';
import { CalibrationService } from './calibration.service.js';

@Module({ providers: [CalibrationService, CalibrationRootResolver, CalibrationResolver, CalibrationVersionResolver] })
export class CalibrationModule {}
