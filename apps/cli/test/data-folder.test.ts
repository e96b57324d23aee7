import { spawnSync } from 'node:child_process';
import { chmodSync, existsSync, mkdirSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { claim, holderOfFolder, openDataFolder, readCredentials, systemFolder } from '../src/database/data-folder.js';

let parent: string;
beforeEach(() => {
  parent = mkdtempSync(join(tmpdir(), 'threadleaf-folder-'));
});
afterEach(() => rmSync(parent, { recursive: true, force: true }));

const isRoot = process.getuid?.() === 0;

test("a folder that the database's user cannot reach is replaced by one of the system's; an ordinary user needs none", () => {
  chmodSync(parent, 0o700);
  const requested = join(parent, 'data');
  const folder = openDataFolder(requested);
  try {
    if (!isRoot) {
      expect(folder).toEqual({ path: requested, user: undefined });
      return;
    }
    expect(folder.path).toMatch(new RegExp(`^${systemFolder}/[0-9a-f]{12}$`));
    expect(folder.note).toMatch(`The data folder is ${folder.path}, because the database runs as user ${folder.user?.name}`);
    expect(existsSync(requested)).toBe(false);
    expect(openDataFolder(requested).path).toBe(folder.path);
  } finally {
    if (folder.path !== requested) rmSync(folder.path, { recursive: true });
  }
});

test('a folder within reach is used as it is, and closed to the eyes of others', () => {
  chmodSync(parent, 0o711);
  const requested = join(parent, 'bench/data');
  const folder = openDataFolder(requested);
  expect({ path: folder.path, note: folder.note }).toEqual({ path: requested, note: undefined });
  expect(statSync(requested).mode & 0o066).toBe(0);
  if (!folder.user) return;
  const { uid, gid } = folder.user;
  expect(uid).not.toBe(0);
  expect(spawnSync('/bin/sh', ['-c', 'test -x "$0" && ! test -w "$0"', requested], { uid, gid, cwd: '/' }).status).toBe(0);
});

test('one process has the folder, whatever others try, until it gives it free', () => {
  const release = claim(parent);
  expect(holderOfFolder(parent)).toBe(process.pid);
  expect(() => claim(parent)).toThrow(`is in use by process ${process.pid}`);
  release();
  expect(holderOfFolder(parent)).toBeUndefined();
  claim(parent)();
});

test.each(['{"pid":999999999,"birth":"x"}', `{"pid":${process.pid},"birth":"an earlier boot/1"}`, '{"pid":1', ''])('a stale or broken claim is taken over: %s', (left) => {
  writeFileSync(join(parent, 'in-use.json'), left);
  const release = claim(parent);
  expect(holderOfFolder(parent)).toBe(process.pid);
  release();
});

test('passwords are made once, differ, and are never made anew beside a database that has others', () => {
  const first = readCredentials(parent);
  expect(readCredentials(parent)).toEqual(first);
  expect(first.ownerPassword).not.toBe(first.appPassword);
  expect(first.ownerPassword.length).toBeGreaterThanOrEqual(32);
  expect(statSync(join(parent, 'database.json')).mode & 0o077).toBe(0);
  rmSync(join(parent, 'database.json'));
  mkdirSync(join(parent, 'postgres'));
  writeFileSync(join(parent, 'postgres/PG_VERSION'), '18\n');
  expect(() => readCredentials(parent)).toThrow(/passwords .* are missing/);
});
