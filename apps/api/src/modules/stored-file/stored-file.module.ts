import { Module } from '@nestjs/common';
import { StoredFileController } from './stored-file.controller.js';
import { StoredFileResolver } from './stored-file.resolver.js';
import { StoredFileService } from './stored-file.service.js';

@Module({ controllers: [StoredFileController], providers: [StoredFileService, StoredFileResolver], exports: [StoredFileService] })
export class StoredFileModule {}
