import { Module } from '@nestjs/common';
import { CalibrationScopeResolver } from './calibration-scope.resolver.js';
import { CalibrationScopeService } from './calibration-scope.service.js';

@Module({ providers: [CalibrationScopeService, CalibrationScopeResolver] })
export class CalibrationScopeModule {}
