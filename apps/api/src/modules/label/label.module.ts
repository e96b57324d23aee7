import { Module } from '@nestjs/common';
import { LabelController } from './label.controller.js';
import { LabelResolver } from './label.resolver.js';
import { LabelService } from './label.service.js';

@Module({ controllers: [LabelController], providers: [LabelService, LabelResolver], exports: [LabelService] })
export class LabelModule {}
