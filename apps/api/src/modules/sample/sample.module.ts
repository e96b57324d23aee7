import { Module } from '@nestjs/common';
import { DiscResolver, LeafResolver, PlantResolver, SampleResolver } from './sample.resolver.js';
import { SampleService } from './sample.service.js';

@Module({ providers: [SampleService, SampleResolver, PlantResolver, LeafResolver, DiscResolver], exports: [SampleService] })
export class SampleModule {}
