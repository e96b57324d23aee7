import { Module } from '@nestjs/common';
import { CustodyResolver, DiscCustodyResolver, LeafCustodyResolver, PlaceResolver, PlaceRootResolver, PlantCustodyResolver } from './place.resolver.js';
import { PlaceService } from './place.service.js';

@Module({ providers: [PlaceService, PlaceRootResolver, PlaceResolver, CustodyResolver, PlantCustodyResolver, LeafCustodyResolver, DiscCustodyResolver] })
export class PlaceModule {}
