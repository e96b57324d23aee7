import { Global, Module, type DynamicModule } from '@nestjs/common';
import { Announcer } from './database/announcer.js';
import { Database } from './database/database.js';
import { sealingBy } from './identity/sealing.js';
import { SecondFactors } from './identity/second-factors.js';
import { Sessions } from './identity/sessions.js';
import { Jobs } from './jobs/jobs.js';
import { Threads } from './jobs/threads.js';
import { Recorder } from './ledger/recorder.js';
import { Sequencer } from './ledger/sequencer.js';
import { secretsOf, signerOf } from './ledger/signer.js';

/** What every module may ask for: the database, the recorder, the ledger's sequencer, long work, sessions and news. */
@Global()
@Module({})
export class PlatformModule {
  static of(database: Database, announcer: Announcer, ledgerKey?: string): DynamicModule {
    const recorder = new Recorder();
    const sequencer = new Sequencer(database, ledgerKey === undefined ? null : signerOf(ledgerKey));
    const factors = new SecondFactors(ledgerKey === undefined ? null : sealingBy(secretsOf(ledgerKey), 'threadleaf second factor'));
    return {
      module: PlatformModule,
      providers: [
        { provide: Database, useValue: database },
        { provide: Announcer, useValue: announcer },
        { provide: Recorder, useValue: recorder },
        { provide: Sequencer, useValue: sequencer },
        { provide: Jobs, useValue: new Jobs(announcer) },
        Threads,
        { provide: SecondFactors, useValue: factors },
        { provide: Sessions, useValue: new Sessions(database, factors) },
      ],
      exports: [Database, Announcer, Recorder, Sequencer, Jobs, Threads, SecondFactors, Sessions],
    };
  }
}
