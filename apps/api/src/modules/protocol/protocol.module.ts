import { Module } from '@nestjs/common';
import { ProtocolResolver, ProtocolRootResolver } from './protocol.resolver.js';
import { ProtocolService } from './protocol.service.js';

@Module({ providers: [ProtocolService, ProtocolRootResolver, ProtocolResolver] })
export class ProtocolModule {}
