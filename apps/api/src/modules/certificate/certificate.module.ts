import { Module } from '@nestjs/common';
import { CertificateResolver, CertificateRootResolver } from './certificate.resolver.js';
import { CertificateService } from './certificate.service.js';

@Module({ providers: [CertificateService, CertificateRootResolver, CertificateResolver] })
export class CertificateModule {}
