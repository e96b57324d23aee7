import { Global, Module, type DynamicModule } from '@nestjs/common';
import { Announcer } from './database/announcer.js';
import { Database } from './database/database.js';
import { Sessions } from './identity/sessions.js';
import { Jobs } from './jobs/jobs.js';
import { Threads } from './jobs/threads.js';
import { Recorder } from './ledger/recorder.js';
import { Sequencer } from './ledger/sequencer.js';
import { signerOf } from './ledger/signer.js';

/** What every module may ask for: the database, the recorder, the ledger's sequencer, long work, sessions and news. */
@Global()
@Module({})
export class PlatformModule {
  static of(database: Database, announcer: Announcer, ledgerKey?: string): DynamicModule {
    const recorder = new Recorder();
    const sequencer = new Sequencer(database, ledgerKey === undefined ? null : signerOf(ledgerKey));
    return {
      module: PlatformModule,
      providers: [
        { provide: Database, useValue: database },
        { provide: Announcer, useValue: announcer },
        { provide: Recorder, useValue: recorder },
        { provide: Sequencer, useValue: sequencer },
        { provide: Jobs, useValue: new Jobs(announcer) },
        Threads,
        { provide: Sessions, useValue: new Sessions(database) },
      ],
      exports: [Database, Announcer, Recorder, Sequencer, Jobs, Threads, Sessions],
    };
  }
}
