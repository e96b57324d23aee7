import { spawnSync } from 'node:child_process';
import { existsSync, realpathSync, statSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import { OperatorFailure } from '../failure.js';

/** The unprivileged user PostgreSQL runs as when we are root, since PostgreSQL refuses to run as root. */
export interface ServerUser {
  readonly name: string;
  readonly uid: number;
  readonly gid: number;
}

const OWN_USER = 'threadleaf';

/** Undefined for an ordinary user: PostgreSQL then runs as that user itself. */
export function findServerUser(clusterDir: string): ServerUser | undefined {
  if (process.getuid?.() !== 0) return undefined;
  // Whoever owns the files must go on reading them, also when another user was added to the machine since.
  if (existsSync(clusterDir)) {
    const { uid, gid } = statSync(clusterDir);
    if (uid !== 0) return { name: spawnSync('id', ['-un', String(uid)], { encoding: 'utf8' }).stdout?.trim() || String(uid), uid, gid };
  }
  return lookUp(OWN_USER) ?? createUser() ?? lookUp('postgres') ?? lookUp('nobody') ?? refuse();
}

/** Whether the user may pass through every folder down to `path`, or to its nearest parent that exists already. */
export function canReach(user: ServerUser | undefined, path: string): boolean {
  let existing = resolve(path);
  while (!existsSync(existing)) existing = dirname(existing);
  if (!user) return true;
  // Asked of the system as that user, because access lists and mounts decide as well as mode bits.
  const seen = spawnSync('/bin/sh', ['-c', 'test -x "$0"', realpathSync(existing)], { uid: user.uid, gid: user.gid, cwd: '/' });
  return seen.status === 0;
}

function lookUp(name: string): ServerUser | undefined {
  const [uid, gid] = ['-u', '-g'].map((part) => {
    const answer = spawnSync('id', [part, name], { encoding: 'utf8' });
    return answer.status === 0 ? Number(answer.stdout) : Number.NaN;
  });
  return Number.isInteger(uid) && Number.isInteger(gid) && uid !== 0 ? { name, uid: uid as number, gid: gid as number } : undefined;
}

function createUser(): ServerUser | undefined {
  const ways: [string, string[]][] = [
    ['useradd', ['--system', '--user-group', '--no-create-home', '--home-dir', '/nonexistent', '--shell', '/usr/sbin/nologin', OWN_USER]],
    ['adduser', ['-S', '-D', '-H', '-s', '/sbin/nologin', OWN_USER]],
  ];
  for (const [command, args] of ways) {
    if (spawnSync(command, args, { stdio: 'ignore' }).status === 0) return lookUp(OWN_USER);
  }
  return undefined;
}

function refuse(): never {
  throw new OperatorFailure(
    `PostgreSQL does not run as root, and no user named ${OWN_USER} could be made on this machine. Make one (useradd --system ${OWN_USER}) or start as an ordinary user.`,
  );
}
