import { Module } from '@nestjs/common';
import { DecisionResolver, FieldCheckResolver, FieldResolver, InstallationResolver, TripResolver } from './field.resolver.js';
import { FieldService } from './field.service.js';

@Module({ providers: [FieldService, FieldResolver, InstallationResolver, TripResolver, FieldCheckResolver, DecisionResolver] })
export class FieldModule {}
