import { Module } from '@nestjs/common';
import { CalendarFeedController } from './calendar-feed.controller.js';
import { DueResolver } from './due.resolver.js';

@Module({ controllers: [CalendarFeedController], providers: [DueResolver] })
export class DueModule {}
