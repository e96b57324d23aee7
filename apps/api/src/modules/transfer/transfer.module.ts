import { Module } from '@nestjs/common';
import { AcrossCropsResolver } from './across-crops.resolver.js';
import { AdjustedVersionResolver, TransferResolver, TransferStudyResolver } from './transfer.resolver.js';
import { TransferService } from './transfer.service.js';

@Module({ providers: [TransferService, TransferResolver, TransferStudyResolver, AdjustedVersionResolver, AcrossCropsResolver] })
export class TransferModule {}
