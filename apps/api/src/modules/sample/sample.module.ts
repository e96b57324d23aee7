import { Module } from '@nestjs/common';
import { DiscResolver, LeafResolver, PlantResolver } from './sample-fields.resolver.js';
import { SampleResolver } from './sample.resolver.js';
import { SampleService } from './sample.service.js';

@Module({ providers: [SampleService, SampleResolver, PlantResolver, LeafResolver, DiscResolver], exports: [SampleService] })
export class SampleModule {}
