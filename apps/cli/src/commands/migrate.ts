import type { Command } from 'commander';
import { databaseFromEnvironment, openExternalDatabase } from '../database/external.js';
import { OperatorFailure } from '../failure.js';
import { bringUpToDate, loadServer } from '../server-module.js';

/** For installations with a PostgreSQL of their own, where several processes serve and exactly one migrates. */
export function register(program: Command): void {
  program
    .command('migrate')
    .description("bring a PostgreSQL of one's own up to date (DATABASE_OWNER_URL), making the serving role of DATABASE_URL when it is missing")
    .action(async () => {
      const { appUrl, ownerUrl } = databaseFromEnvironment();
      if (!appUrl) throw new OperatorFailure('DATABASE_URL is not set: it names the database to migrate.');
      const database = await openExternalDatabase(appUrl, ownerUrl);
      const applied = await bringUpToDate(await loadServer(), database.ownerUrl ?? appUrl);
      console.log(applied.length ? `Migrated: ${applied.join(', ')}` : 'The schema is up to date.');
    });
}
