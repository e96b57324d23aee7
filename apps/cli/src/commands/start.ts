import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { InvalidArgumentError, type Command } from 'commander';
import { requestedDataFolder } from '../database/data-folder.js';
import { startEmbeddedPostgres } from '../database/embedded.js';
import { databaseFromEnvironment, openExternalDatabase, openServedDatabase } from '../database/external.js';
import { demoSignIns, ensureDemo, neighbourSignIns, type DemoSignIn } from '../demo/ensure-demo.js';
import { OperatorFailure, codeOf } from '../failure.js';
import { ledgerKeyFor } from '../ledger-key.js';
import { packageRoot } from '../package-root.js';
import { bringUpToDate, loadServer, type ServerModule } from '../server-module.js';
import { stopOnSignal } from '../stop-on-signal.js';

const LOOPBACK = ['127.0.0.1', 'localhost', '::1'];

interface StartOptions {
  readonly port: number;
  readonly host: string;
  readonly data?: string;
  readonly databaseUrl?: string;
  readonly demo: boolean;
  readonly migrate: boolean;
}

interface RunningDatabase {
  readonly ownerUrl: string | undefined;
  readonly appUrl: string;
  /** Where to keep what belongs outside the database. */
  readonly dataDir: string;
  stop(): Promise<void>;
}

export function register(program: Command): void {
  program
    .command('start')
    .description('serve Threadleaf: database, API and pages on one port')
    .option('--port <number>', 'port to listen on (PORT)', parsePort, parsePort(process.env['PORT'] ?? '4180'))
    .option('--host <address>', 'address to listen on; 0.0.0.0 lets other machines in', '127.0.0.1')
    .option('--data <folder>', 'data folder of the built-in PostgreSQL (THREADLEAF_DATA; else ./data)')
    .option('--database-url <url>', "a PostgreSQL of one's own instead of the built-in one (DATABASE_URL, owner in DATABASE_OWNER_URL)")
    .option('--no-demo', 'make no demo lab')
    .option('--no-migrate', 'leave the schema of DATABASE_URL as it is: another process migrates')
    .action(start);
}

async function start(options: StartOptions): Promise<void> {
  // Loading the api takes as long as starting the database: side by side.
  const loading = loadServer();
  loading.catch(() => undefined); // Awaited below; a failure of the database is told first.
  const stopping = stopOnSignal(console.error);
  const database = await openDatabase(options, (reason) => stopping.stop(reason));
  stopping.onStop(() => database.stop());
  try {
    const server = await loading;
    if (options.migrate && database.ownerUrl) {
      const applied = await bringUpToDate(server, database.ownerUrl);
      if (applied.length > 0) console.error(`Migrated the database: ${applied.join(', ')}`);
    }
    const served = await serve(server, database, options);
    stopping.onStop(() => served.close());
    const demo = options.demo ? await ensureDemo(served, console.error) : { stands: false, neighbour: false };
    if (demo.stands && !LOOPBACK.includes(options.host)) console.error('Caution: the demo lab has passwords that everybody knows, and other machines can reach it. Use --no-demo for real work.');
    console.log(`\nThreadleaf is ready: ${served.url}\n${demo.stands ? `${demoTable(demo.neighbour)}\n` : ''}Ctrl-C stops it.`);
  } catch (error) {
    await stopping.stop();
    throw error;
  }
}

async function openDatabase(options: StartOptions, onLost: (reason: string) => void): Promise<RunningDatabase> {
  const { appUrl, ownerUrl } = databaseFromEnvironment();
  const url = options.databaseUrl ?? appUrl;
  if (!url) {
    return startEmbeddedPostgres({ dataDir: requestedDataFolder(options.data), log: console.error, onLost });
  }
  const external = options.migrate ? await openExternalDatabase(url, ownerUrl) : await openServedDatabase(url);
  return { ...external, dataDir: requestedDataFolder(options.data), stop: async () => undefined };
}

async function serve(server: ServerModule, database: RunningDatabase, options: StartOptions) {
  const webDir = join(packageRoot, 'dist/web');
  try {
    return await server.serve({
      databaseUrl: database.appUrl,
      port: options.port,
      host: options.host,
      ledgerKey: ledgerKeyFor(database.dataDir, console.error),
      ...(existsSync(webDir) ? { webDir } : {}),
    });
  } catch (error) {
    // Asked before anything slow as well (prepare/run.mjs); somebody may have come in between.
    if (codeOf(error) !== 'EADDRINUSE') throw error;
    throw new OperatorFailure(`Port ${options.port} on ${options.host} is in use by another program. Stop that program, or choose another with --port.`);
  }
}

/** One line a role; the demo's data and people are invented. */
function demoTable(neighbour: boolean): string {
  const rows = (signIns: readonly DemoSignIn[]): string => signIns.map(({ role, email, password }) => `  ${role.padEnd(16)}${email.padEnd(34)}${password}`).join('\n');
  return `The demo lab holds invented data. Sign in as:\n${rows(demoSignIns())}${neighbour ? `\nThe lab next door shares with it:\n${rows(neighbourSignIns())}` : ''}`;
}

function parsePort(text: string): number {
  const port = Number(text);
  if (!Number.isInteger(port) || port < 0 || port > 65_535) throw new InvalidArgumentError('A port is a whole number from 0 to 65535.');
  return port;
}
