import { Module } from '@nestjs/common';
import {
  AbsorptionBandFileResolver, PassportCurveResolver, PassportLotResolver, PassportResolver, PassportUnitResolver, standingFactResolvers,
} from './passport.resolver.js';
import { PassportService } from './passport.service.js';

@Module({ providers: [PassportService, PassportResolver, PassportUnitResolver, PassportLotResolver, PassportCurveResolver, AbsorptionBandFileResolver, ...standingFactResolvers] })
export class PassportModule {}
