import { Module } from '@nestjs/common';
import { LabModule } from '../lab/lab.module.js';
import { AccessTokenResolver, TokenRootResolver } from './token.resolver.js';
import { TokenService } from './token.service.js';

@Module({ imports: [LabModule], providers: [TokenService, TokenRootResolver, AccessTokenResolver] })
export class TokenModule {}
