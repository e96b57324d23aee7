import { spawnSync } from 'node:child_process';
import { readFileSync, readlinkSync, realpathSync } from 'node:fs';

/** Whether a process runs. A zombie (ended, not yet collected by its parent) holds nothing and counts as gone. */
export function isAlive(pid: number): boolean {
  if (!Number.isInteger(pid) || pid <= 0) return false;
  try {
    process.kill(pid, 0);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EPERM') return false;
  }
  return !['Z', 'X'].includes(statOf(pid)?.[0] ?? '');
}

/**
 * Tells a process from a later one that was given the same number: its moment of birth within this boot of the machine.
 * Empty when the process is gone.
 */
export function birthOf(pid: number): string {
  const stat = statOf(pid);
  if (stat) return `${readFileSync('/proc/sys/kernel/random/boot_id', 'utf8').trim()}/${stat[19] ?? ''}`;
  if (process.platform === 'linux') return '';
  return spawnSync('ps', ['-o', 'lstart=', '-p', String(pid)], { encoding: 'utf8' }).stdout?.trim() ?? '';
}

/** Whether this process is the PostgreSQL server of that data folder: it works inside it, or names it in its command. */
export function serves(pid: number, clusterDir: string): boolean {
  if (!isAlive(pid)) return false;
  try {
    if (readlinkSync(`/proc/${pid}/cwd`) === realpathSync(clusterDir)) return true;
  } catch {
    // Not Linux, or not ours to look at: the command line decides.
  }
  const command = spawnSync('ps', ['-o', 'command=', '-p', String(pid)], { encoding: 'utf8' }).stdout ?? '';
  return command.includes('postgres') && command.includes(clusterDir);
}

/** Waits until the process is gone, at most `limitMs`; false when it still runs then. */
export async function isGoneWithin(pid: number, limitMs: number): Promise<boolean> {
  const end = Date.now() + limitMs;
  while (isAlive(pid)) {
    if (Date.now() > end) return false;
    await pause(20);
  }
  return true;
}

export function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

/** The fields of /proc/<pid>/stat from the third (state) on; the second, the name, may hold blanks and brackets. */
function statOf(pid: number): string[] | undefined {
  try {
    const text = readFileSync(`/proc/${pid}/stat`, 'utf8');
    return text.slice(text.lastIndexOf(')') + 2).split(' ');
  } catch {
    return undefined;
  }
}
