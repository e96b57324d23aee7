import { Module } from '@nestjs/common';
import { AmendmentResolver, AmendmentRootResolver } from './amendment.resolver.js';
import { AmendmentService } from './amendment.service.js';

@Module({ providers: [AmendmentService, AmendmentRootResolver, AmendmentResolver], exports: [AmendmentService] })
export class AmendmentModule {}
