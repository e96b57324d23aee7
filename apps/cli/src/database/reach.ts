import { OperatorFailure } from '../failure.js';
import { requestedDataFolder } from './data-folder.js';
import { runningEmbedded, startEmbeddedPostgres } from './embedded.js';
import { checkServer, databaseFromEnvironment, openExternalDatabase } from './external.js';

export interface DatabaseOptions {
  readonly data?: string;
  readonly databaseUrl?: string;
}

export interface ReachedDatabase {
  /** Undefined where a running server has brought the schema up to date already. */
  readonly ownerUrl: string | undefined;
  readonly appUrl: string;
  stop(): Promise<void>;
}

/** For commands that work on the database itself: the one of a running server, or the built-in one started for them. */
export async function reachDatabase(options: DatabaseOptions): Promise<ReachedDatabase> {
  const { appUrl, ownerUrl } = databaseFromEnvironment();
  const url = options.databaseUrl ?? appUrl;
  if (url) return { ...(await openExternalDatabase(url, ownerUrl)), stop: async () => undefined };
  const dataDir = requestedDataFolder(options.data);
  const running = runningEmbedded(dataDir);
  if (!running) return startEmbeddedPostgres({ dataDir, log: console.error });
  try {
    await checkServer(running.appUrl, '--data');
  } catch (error) {
    throw new OperatorFailure(`The data folder ${dataDir} is in use by a program that is starting or stopping just now. Try again in a moment.`, { cause: error });
  }
  return { ownerUrl: undefined, appUrl: running.appUrl, stop: async () => undefined };
}
