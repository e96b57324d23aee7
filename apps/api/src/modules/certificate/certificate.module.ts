import { Module } from '@nestjs/common';
import { BatchResolver, CertificateResolver, CertificateRootResolver, LightReferenceResolver } from './certificate.resolver.js';
import { SignatureModule } from '../signature/signature.module.js';
import { BatchService } from './batch.service.js';
import { CertificatePaperController } from './certificate.controller.js';
import { CertificateService } from './certificate.service.js';
import { LightService } from './light.service.js';
import { PassportPaperController } from './passport.controller.js';

@Module({ imports: [SignatureModule], controllers: [CertificatePaperController, PassportPaperController], providers: [CertificateService, BatchService, LightService, CertificateRootResolver, CertificateResolver, LightReferenceResolver, BatchResolver] })
export class CertificateModule {}
