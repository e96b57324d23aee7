import 'reflect-metadata';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { INestApplicationContext } from '@nestjs/common';
import { NestFactory } from '@nestjs/core';
import type { NestExpressApplication } from '@nestjs/platform-express';
import type { NextFunction, Request, Response } from 'express';
import helmet from 'helmet';
import { AppModule } from './app.module.js';
import { entities, keptEntities } from './entities.js';
import { RESULT_KINDS } from './modules/amendment/amendment.repository.js';
import { LabService, type NewMember } from './modules/lab/lab.service.js';
import { openLab, type FirstAdministrator, type OpenedLab } from './modules/lab/open-lab.js';
import { packageRoot } from './platform/config/package-root.js';
import { Announcer } from './platform/database/announcer.js';
import { Database } from './platform/database/database.js';
import { accountByEmail, standingLabs, type StandingLabs } from './platform/identity/account.repository.js';
import { removeSecondFactor, secondFactorOf } from './platform/identity/second-factor.repository.js';
import { checkLabs, type LabCheck } from './platform/ledger/check-labs.js';
import { OWN_PATHS } from './platform/http/http.js';
import { JobRunner } from './platform/jobs/job-runner.js';
import { Jobs } from './platform/jobs/jobs.js';
import { Threads } from './platform/jobs/threads.js';
import { Recorder } from './platform/ledger/recorder.js';
import { Sequencer } from './platform/ledger/sequencer.js';

export { restoreBackup, writeBackup, type BackupTold } from './platform/database/backup.js';
export { migrate } from './platform/database/migrate.js';
export { codeVersion } from './platform/config/code-version.js';
export type { LabCheck } from './platform/ledger/check-labs.js';
export type { NewMember } from './modules/lab/lab.service.js';

export interface ServeOptions {
  /** Login of the serving role, or one that may step down to it. */
  readonly databaseUrl: string;
  readonly port: number;
  readonly host?: string;
  /** Folder of the built web; the API alone is served when it is missing. */
  readonly webDir?: string;
  readonly poolSize?: number;
  /**
   * Secret that signs the ledgers' checkpoints: 32 bytes in base64, after a change of keys with the one before on the next
   * line. Kept outside the database, the same for all processes on one. Without it entries get their places, unsigned.
   */
  readonly ledgerKey?: string;
  /** False: this process starts no nightly work. A test at that hour would meet records that nobody in it made. */
  readonly nights?: boolean;
}

export interface Served {
  readonly url: string;
  /** Opens a lab with its first members; for whoever runs the server, not for requests. */
  openLab(name: string, members: readonly NewMember[], demo?: boolean): Promise<{ labId: string; accountIds: string[] }>;
  /** Which labs stand: any at all, and the demo. */
  labs(): Promise<StandingLabs>;
  /** Places and signs all that waits in a lab's ledger now, instead of shortly. */
  settleLedger(labId: string): Promise<void>;
  close(): Promise<void>;
}

/** Typed by hand because a drying import carries its file in the request. */
const MOST_REQUEST = '8mb';

function serveWeb(app: NestExpressApplication, webDir: string): void {
  if (!existsSync(join(webDir, 'index.html'))) return;
  app.useStaticAssets(webDir, {
    index: 'index.html',
    setHeaders: (response: Response, file: string) => {
      response.setHeader('Cache-Control', file.includes('assets') ? 'public, max-age=31536000, immutable' : 'no-cache');
    },
  });
  // Screens have addresses of their own: whatever is neither file nor API is the web's page.
  app.use((request: Request, response: Response, next: NextFunction) => {
    const isPage = request.method === 'GET' && !OWN_PATHS.some((own) => request.path === own || request.path.startsWith(`${own}/`)) && !request.path.includes('.') && request.accepts('html');
    if (isPage) response.setHeader('Cache-Control', 'no-cache').sendFile(join(webDir, 'index.html'));
    else next();
  });
}

/** Opens a lab on a migrated database, whether a server runs on it or not. */
export async function openLabAt(databaseUrl: string, name: string, administrator: FirstAdministrator): Promise<OpenedLab> {
  const database = await Database.open(databaseUrl, entities, 1);
  try {
    return await openLab(database, name, administrator);
  } finally {
    await database.close();
  }
}

/** Removes a person's second factor, for whoever runs the server. False where the e-mail names no account that has one. */
export async function removeSecondFactorAt(databaseUrl: string, email: string): Promise<boolean> {
  const database = await Database.open(databaseUrl, entities, 1);
  try {
    const account = await database.write({ labId: null, accountId: null }, (tx) => accountByEmail(tx, email));
    if (!account) return false;
    return await database.write({ labId: null, accountId: account.id }, async (tx) => {
      const stands = (await secondFactorOf(tx, account.id)) !== null;
      await removeSecondFactor(tx, account.id);
      return stands;
    });
  } finally {
    await database.close();
  }
}

/** Checks the whole record of every lab against its ledger, whether a server runs on the database or not. */
export async function checkDatabase(databaseUrl: string, kept: readonly string[] = []): Promise<LabCheck[]> {
  const database = await Database.open(databaseUrl, entities, 2);
  try {
    return await checkLabs(database, keptEntities, RESULT_KINDS, kept);
  } finally {
    await database.close();
  }
}

/** Does what happens behind requests, without serving any: jobs, places of what processes left waiting, and checkpoints. */
export async function work({ databaseUrl, ledgerKey }: Pick<ServeOptions, 'databaseUrl' | 'ledgerKey'>): Promise<{ close(): Promise<void> }> {
  const database = await Database.open(databaseUrl, entities, 6);
  const announcer = new Announcer(databaseUrl);
  await announcer.open();
  const app = await NestFactory.createApplicationContext(AppModule.of(database, announcer, ledgerKey), { logger: ['warn', 'fatal'], abortOnError: false });
  const behind = await startBehind(app, database, announcer, databaseUrl);
  return {
    close: async () => {
      await behind.close();
      await app.close();
      await Promise.all([announcer.close(), database.close()]);
    },
  };
}

/** What happens behind requests: news of writes, places in the ledger, jobs. */
async function startBehind(app: INestApplicationContext, database: Database, announcer: Announcer, databaseUrl: string, nights?: boolean): Promise<{ close(): Promise<void> }> {
  const sequencer = app.get(Sequencer);
  app.get(Recorder).onWrite((tx, kind, row) => {
    const { dryingRunId } = row as { dryingRunId?: string | null };
    tx.afterCommit(() => announcer.announce({ labId: row.labId, kind, id: row.id, dryingRunId: dryingRunId ?? null }));
    tx.afterCommit(() => sequencer.nudge(row.labId));
  });
  await sequencer.start();
  const jobs = new JobRunner(database, app.get(Jobs));
  await jobs.start(databaseUrl, nights);
  return {
    close: async () => {
      await jobs.close();
      await app.get(Threads).close();
      await sequencer.close();
    },
  };
}

/** Starts the API, and the web where it is built, on one port. */
export async function serve(options: ServeOptions): Promise<Served> {
  const database = await Database.open(options.databaseUrl, entities, options.poolSize);
  const announcer = new Announcer(options.databaseUrl);
  await announcer.open();
  const app = await NestFactory.create<NestExpressApplication>(AppModule.of(database, announcer, options.ledgerKey), {
    // Errors of requests are told by formatError: bugs under an id, expected failures not at all.
    logger: ['warn', 'fatal'],
    bodyParser: false,
    abortOnError: false,
  });
  app.useBodyParser('json', { limit: MOST_REQUEST });
  app.set('trust proxy', 'loopback');
  app.use(helmet({ contentSecurityPolicy: { directives: {
    'script-src': ["'self'"],
    // The component library sets sizes in style attributes.
    'style-src': ["'self'", "'unsafe-inline'"],
    'img-src': ["'self'", 'data:', 'blob:'],
    'connect-src': ["'self'", 'ws:', 'wss:'],
    'upgrade-insecure-requests': null,
  } } }));
  app.use('/healthz', (_request: Request, response: Response) => { response.type('text').send('ok'); });
  serveWeb(app, options.webDir ?? join(packageRoot, 'dist/web'));
  const host = options.host ?? '127.0.0.1';
  try {
    await app.listen(options.port, host);
  } catch (error) {
    await Promise.all([announcer.close(), database.close()]);
    throw error;
  }
  const behind = await startBehind(app, database, announcer, options.databaseUrl, options.nights);
  const { port } = app.getHttpServer().address() as { port: number };
  return {
    url: `http://${host === '0.0.0.0' || host === '::' ? 'localhost' : host}:${port}`,
    openLab: (name, members, demo) => app.get(LabService).open(name, members, demo),
    labs: () => database.write({ labId: null, accountId: null }, standingLabs),
    settleLedger: (labId) => app.get(Sequencer).settle(labId),
    close: async () => {
      await app.close();
      await behind.close();
      await Promise.all([announcer.close(), database.close()]);
    },
  };
}
