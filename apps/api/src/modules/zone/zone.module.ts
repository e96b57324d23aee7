import { Module } from '@nestjs/common';
import { RealisedTripResolver, SitePlanResolver, UnitStandingResolver, ZoneAdviceResolver, ZoneResolver, ZoneRootResolver, ZoneRuleResolver } from './zone.resolver.js';
import { FieldWatchService } from './field-watch.service.js';
import { ZoneService } from './zone.service.js';

@Module({ providers: [ZoneService, FieldWatchService, ZoneRootResolver, ZoneResolver, ZoneRuleResolver, UnitStandingResolver, ZoneAdviceResolver, SitePlanResolver, RealisedTripResolver] })
export class ZoneModule {}
