import { Module } from '@nestjs/common';
import { LabModule } from '../lab/lab.module.js';
import { SignatureResolver } from './signature.resolver.js';
import { SignatureService } from './signature.service.js';

@Module({ imports: [LabModule], providers: [SignatureService, SignatureResolver], exports: [SignatureService] })
export class SignatureModule {}
