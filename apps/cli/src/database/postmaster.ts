import { spawn, type ChildProcess } from 'node:child_process';
import { closeSync, existsSync, openSync, readFileSync, renameSync, rmSync, statSync } from 'node:fs';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { OperatorFailure } from '../failure.js';
import { isAlive, isGoneWithin, pause, serves } from './processes.js';
import type { ServerUser } from './server-user.js';

export interface PostmasterOptions {
  readonly program: string;
  readonly clusterDir: string;
  readonly logFile: string;
  readonly user: ServerUser | undefined;
  readonly settings: Readonly<Record<string, string | number>>;
}

const KEPT_LOG_BYTES = 8 * 1024 * 1024;
const START_ATTEMPTS = 8;

/**
 * Starts the PostgreSQL server on its data folder and waits until it accepts connections (after a crash that includes its
 * own recovery, however long it takes). `port` is kept when free, else another is taken.
 */
export async function startPostmaster(options: PostmasterOptions, port: number): Promise<{ process: ChildProcess; port: number }> {
  await stopOrphan(options.clusterDir);
  rotate(options.logFile);
  let reason = '';
  for (let attempt = 1; attempt <= START_ATTEMPTS; attempt += 1) {
    const chosen = attempt === 1 && (await isFree(port)) ? port : await freePort();
    const started = await tryStart(options, chosen);
    if (typeof started !== 'string') return { process: started, port: chosen };
    reason = started;
    // What a killed server leaves behind (its children, its shared memory, its port) goes within a second or two.
    if (!/shared memory block|lock file|Address already in use|could not bind/i.test(reason)) break;
    await pause(300);
  }
  throw explain(reason, options.logFile);
}

/** Lets running statements end with an error, writes everything out, and ends the server; harsher only if that hangs. */
export async function stopPostmaster(pid: number): Promise<void> {
  for (const [signal, patienceMs] of [['SIGINT', 20_000], ['SIGQUIT', 5_000], ['SIGKILL', 5_000]] as const) {
    try {
      process.kill(pid, signal);
    } catch {
      return;
    }
    if (await isGoneWithin(pid, patienceMs)) return;
  }
}

/**
 * A server whose parent was killed goes on alone. It is ended in order, and a lock file that names a process that is none
 * of ours (its number was given away again) is removed, because PostgreSQL would refuse to start because of it. PostgreSQL
 * itself still refuses when a child of the dead server holds its shared memory.
 */
export async function stopOrphan(clusterDir: string): Promise<void> {
  const lock = join(clusterDir, 'postmaster.pid');
  const pid = existsSync(lock) ? Number(readFileSync(lock, 'utf8').split('\n')[0]) : 0;
  if (!isAlive(pid)) return;
  if (serves(pid, clusterDir)) await stopPostmaster(pid);
  else rmSync(lock, { force: true });
}

/** The child once it is ready, or what the server wrote into its log before it gave up. */
async function tryStart(options: PostmasterOptions, port: number): Promise<ChildProcess | string> {
  const { program, clusterDir, logFile, user, settings } = options;
  const log = openSync(logFile, 'a', 0o600);
  const logBegin = statSync(logFile).size;
  const flags = Object.entries({ ...settings, port }).flatMap(([name, value]) => ['-c', `${name}=${value}`]);
  const child = spawn(program, ['-D', clusterDir, ...flags], {
    ...(user ? { uid: user.uid, gid: user.gid } : {}),
    cwd: '/',
    env: { PATH: process.env['PATH'] ?? '', LC_ALL: 'C', TZ: 'UTC' },
    // A session of its own: Ctrl-C in the terminal must reach us alone, who then stop the server after the last request.
    detached: true,
    // A file, not a pipe: the server outlives us when we are killed and must not stumble over a broken pipe.
    stdio: ['ignore', log, log],
  });
  closeSync(log);
  let failed: string | undefined;
  child.once('error', (error) => (failed = error.message));
  while (failed === undefined && child.exitCode === null && child.signalCode === null) {
    if (isReady(clusterDir, child.pid)) return child;
    await pause(15);
  }
  return failed ?? (readFileSync(logFile).subarray(logBegin).toString('utf8') || `ended with ${child.exitCode ?? child.signalCode}`);
}

/** The server's own lock file: its number in line 1, its state in line 8 (PostgreSQL, src/include/utils/pidfile.h). */
function isReady(clusterDir: string, pid: number | undefined): boolean {
  try {
    const lines = readFileSync(join(clusterDir, 'postmaster.pid'), 'utf8').split('\n');
    return Number(lines[0]) === pid && lines[7]?.trim() === 'ready';
  } catch {
    return false;
  }
}

function explain(log: string, logFile: string): OperatorFailure {
  if (/No space left on device/i.test(log)) return new OperatorFailure('The database did not start: the disk is full. Make room, then start again; nothing was lost.');
  const tail = log.trimEnd().split('\n').slice(-12).map((line) => `  ${line}`).join('\n');
  return new OperatorFailure(`The database did not start. The end of its log (${logFile}):\n${tail}`);
}

function rotate(logFile: string): void {
  if (existsSync(logFile) && statSync(logFile).size > KEPT_LOG_BYTES) renameSync(logFile, `${logFile}.1`);
}

function isFree(port: number): Promise<boolean> {
  if (port === 0) return Promise.resolve(false);
  return new Promise((resolve) => {
    const probe = createServer();
    probe.once('error', () => resolve(false));
    probe.listen({ port, host: '127.0.0.1', exclusive: true }, () => probe.close(() => resolve(true)));
  });
}

function freePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const probe = createServer();
    probe.once('error', reject);
    probe.listen({ port: 0, host: '127.0.0.1' }, () => {
      const address = probe.address();
      probe.close(() => resolve(typeof address === 'object' && address ? address.port : 0));
    });
  });
}
