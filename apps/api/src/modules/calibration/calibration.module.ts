import { Module } from '@nestjs/common';
import { CalibrationResolver, CalibrationRootResolver, CalibrationVersionResolver } from './calibration.resolver.js';
import { CalibrationService } from './calibration.service.js';
import { StudyResolver } from './study.resolver.js';
import { StudyService } from './study.service.js';

@Module({ providers: [CalibrationService, CalibrationRootResolver, CalibrationResolver, CalibrationVersionResolver, StudyService, StudyResolver] })
export class CalibrationModule {}
