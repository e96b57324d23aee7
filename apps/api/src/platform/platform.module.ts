import { Global, Module, type DynamicModule } from '@nestjs/common';
import { Announcer } from './database/announcer.js';
import { Database } from './database/database.js';
import { Sessions } from './identity/sessions.js';
import { Recorder } from './ledger/recorder.js';

/** What every module may ask for: the database, the recorder, sessions and news. */
@Global()
@Module({})
export class PlatformModule {
  static of(database: Database, announcer: Announcer): DynamicModule {
    const recorder = new Recorder();
    return {
      module: PlatformModule,
      providers: [
        { provide: Database, useValue: database },
        { provide: Announcer, useValue: announcer },
        { provide: Recorder, useValue: recorder },
        { provide: Sessions, useValue: new Sessions(database) },
      ],
      exports: [Database, Announcer, Recorder, Sessions],
    };
  }
}
