import { createHash, randomBytes } from 'node:crypto';
import { chmodSync, existsSync, linkSync, mkdirSync, readFileSync, realpathSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { basename, dirname, join, resolve } from 'node:path';
import { OperatorFailure, codeOf } from '../failure.js';
import { packageRoot } from '../package-root.js';
import { birthOf, isAlive } from './processes.js';
import { canReach, findServerUser, type ServerUser } from './server-user.js';

/** Where things go that root makes for the database's own user when the clone lies in a folder closed to that user. */
export const systemFolder = process.platform === 'linux' ? '/var/lib/threadleaf' : '/usr/local/var/threadleaf';

/** The data folder in use: what was asked for, or the one that stands in for it. */
export interface DataFolder {
  readonly path: string;
  /** The user PostgreSQL runs as; undefined: the user we are. */
  readonly user: ServerUser | undefined;
  /** One line for the terminal when `path` is not the folder that was asked for. */
  readonly note?: string;
}

/** What the data folder keeps beside the database itself, readable by its owner only. */
export interface Credentials {
  readonly ownerPassword: string;
  readonly appPassword: string;
  /** The port of last time, tried first so that a connection string noted down stays right. */
  readonly port: number;
}

/** The data folder asked for: the option, else THREADLEAF_DATA, else `data` in the clone. */
export function requestedDataFolder(option?: string): string {
  return resolve(option ?? process.env['THREADLEAF_DATA'] ?? join(packageRoot, 'data'));
}

/** The folder in which PostgreSQL keeps its files. */
export function clusterOf(folder: string): string {
  return join(folder, 'postgres');
}

/**
 * Makes the folder and proves that we may write there. As root, a folder that the database's user cannot reach (root's own
 * home is closed to everybody) is replaced by one of the system's, always the same one for the same request.
 */
export function openDataFolder(requested: string): DataFolder {
  let path = requested;
  let note: string | undefined;
  refuseFile(path);
  let user = findServerUser(clusterOf(path));
  if (!canReach(user, dirname(path))) {
    path = join(systemFolder, createHash('sha256').update(realPathOf(requested)).digest('hex').slice(0, 12));
    user = findServerUser(clusterOf(path));
    note = `The data folder is ${path}, because the database runs as user ${user?.name}, who cannot look into ${dirname(requested)}`;
    makeSystemFolder();
  }
  try {
    makeFolders(path);
    // The database's user passes through on the way to its own folder, but may list nothing here.
    chmodSync(path, statSync(path).mode | (user ? 0o711 : 0o700));
    writeFileSync(join(path, '.writable'), '');
    rmSync(join(path, '.writable'));
  } catch (error) {
    throw unwritable(path, error);
  }
  return note ? { path, user, note } : { path, user };
}

/** A file on the way is a slip of the person who typed the path, not a folder out of the database's reach. */
function refuseFile(path: string): void {
  const existing = nearestExisting(path);
  if (!statSync(existing).isDirectory()) throw unwritable(path, { code: existing === path ? 'EEXIST' : 'ENOTDIR' });
}

/** Step by step: Node's own recursive mkdir never comes back from a file system that makes no folders, such as /proc. */
function makeFolders(path: string, mode = 0o700): void {
  if (existsSync(path)) return;
  makeFolders(dirname(path), 0o755);
  mkdirSync(path);
  chmodSync(path, mode);
}

function nearestExisting(path: string): string {
  let existing = path;
  while (!existsSync(existing)) existing = dirname(existing);
  return existing;
}

export function makeSystemFolder(): void {
  mkdirSync(systemFolder, { recursive: true });
  chmodSync(systemFolder, 0o755);
}

/** The whole explanation of why a data folder cannot be used. */
export function unwritable(path: string, error: unknown): OperatorFailure {
  const reasons: Record<string, string> = {
    EACCES: 'permission denied',
    ENOENT: 'no folder can be made there',
    EPERM: 'permission denied',
    EROFS: 'the file system is read-only',
    ENOTDIR: 'a part of that path is a file, not a folder',
    EEXIST: 'there is a file of that name',
    ENOSPC: 'the disk is full',
    EDQUOT: 'the disk quota is used up',
  };
  const reason = reasons[codeOf(error) ?? ''] ?? String(error);
  return new OperatorFailure(`The data folder ${path} cannot be written: ${reason}. Choose another with --data or THREADLEAF_DATA.`);
}

/** The passwords and the port; made on first use. */
export function readCredentials(folder: string): Credentials {
  const file = join(folder, 'database.json');
  if (existsSync(file)) return JSON.parse(readFileSync(file, 'utf8')) as Credentials;
  if (existsSync(join(clusterOf(folder), 'PG_VERSION'))) {
    throw new OperatorFailure(`${folder} holds a database, but its passwords (${file}) are missing: put that file back from your copy of the folder.`);
  }
  const password = () => randomBytes(24).toString('base64url');
  return writeCredentials(folder, { ownerPassword: password(), appPassword: password(), port: 0 });
}

export function writeCredentials(folder: string, credentials: Credentials): Credentials {
  const file = join(folder, 'database.json');
  writeFileSync(`${file}.new`, `${JSON.stringify(credentials, null, 2)}\n`, { mode: 0o600 });
  renameSync(`${file}.new`, file);
  return credentials;
}

/**
 * Claims the folder for this process; gives back the release. A claim left by a process that is gone is taken over, also
 * when another process has its number by now.
 */
export function claim(folder: string): () => void {
  const file = join(folder, 'in-use.json');
  const mine = `${file}.${process.pid}`;
  const holder = { pid: process.pid, birth: birthOf(process.pid) };
  writeFileSync(mine, JSON.stringify(holder), { mode: 0o600 });
  try {
    while (!placed(mine, file)) {
      const other = holderOf(file);
      if (other) {
        throw new OperatorFailure(`The data folder ${folder} is in use by process ${other.pid}. Stop that one first, or choose another folder with --data.`);
      }
      removeStale(file);
    }
  } finally {
    rmSync(mine, { force: true });
  }
  return () => {
    if (holderOf(file)?.pid === process.pid) rmSync(file, { force: true });
  };
}

/** The living process that has claimed this folder, if any. */
export function holderOfFolder(folder: string): number | undefined {
  return holderOf(join(folder, 'in-use.json'))?.pid;
}

function holderOf(file: string): { pid: number } | undefined {
  try {
    const { pid, birth } = JSON.parse(readFileSync(file, 'utf8')) as { pid: number; birth: string };
    return isAlive(pid) && birthOf(pid) === birth ? { pid } : undefined;
  } catch {
    return undefined;
  }
}

/** Two starts may find the same stale claim: whoever moved away a living one by mistake puts it back. */
function removeStale(file: string): void {
  const aside = `${file}.stale-${process.pid}`;
  try {
    renameSync(file, aside);
  } catch {
    return;
  }
  if (holderOf(aside)) placed(aside, file);
  rmSync(aside, { force: true });
}

/** A link appears whole or not at all, and never over another. */
function placed(from: string, to: string): boolean {
  try {
    linkSync(from, to);
    return true;
  } catch (error) {
    if (codeOf(error) === 'EEXIST') return false;
    throw error;
  }
}

function realPathOf(path: string): string {
  return existsSync(path) ? realpathSync(path) : join(existsSync(dirname(path)) ? realPathOf(dirname(path)) : dirname(path), basename(path));
}
