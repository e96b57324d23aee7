import { Module } from '@nestjs/common';
import {
  PassportCurveResolver, PassportLotResolver, PassportResolver, PassportUnitResolver, standingFactResolvers,
} from './passport.resolver.js';
import { PassportService } from './passport.service.js';

@Module({ providers: [PassportService, PassportResolver, PassportUnitResolver, PassportLotResolver, PassportCurveResolver, ...standingFactResolvers] })
export class PassportModule {}
