import { Module } from '@nestjs/common';
import { DecisionOutcomeResolver, FieldReportResolver, FieldReportRootResolver, InstallationEndResolver, LatchResetResolver } from './field-report.resolver.js';
import { FieldReportService } from './field-report.service.js';
import { DecisionResolver, FieldCheckResolver, FieldResolver, InstallationResolver, TripResolver } from './field.resolver.js';
import { FieldService } from './field.service.js';

@Module({
  providers: [
    FieldService, FieldReportService, FieldResolver, InstallationResolver, TripResolver, FieldCheckResolver, DecisionResolver,
    FieldReportRootResolver, FieldReportResolver, LatchResetResolver, InstallationEndResolver, DecisionOutcomeResolver,
  ],
})
export class FieldModule {}
