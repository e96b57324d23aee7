import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { byToken } from '../../apps/cli/src/client.js';
import { Listener } from '../../apps/cli/src/listen/listener.js';
import { SimulatedBalance } from '../../apps/cli/src/listen/simulated-balance.js';
import { Spool } from '../../apps/cli/src/listen/spool.js';
import { axeFindings, DESK, openStage, PHONE, reads, scene, sidewaysFindings, visit, type Page, type Stage } from '../support/browser.js';
import { furnish, record, type Bench } from '../support/chain.js';
import { newId, PASSWORD } from '../support/lab.js';
import { listeners } from '../support/listeners.js';

let stage: Stage;
let bench: Bench;
let manager: Page;
let runId: string;
const discIds = [newId(), newId()];

beforeAll(async () => {
  stage = await openStage('Speaking lab');
  bench = await furnish(stage.lab.as('MANAGER'));
  const technician = stage.lab.as('TECHNICIAN');
  for (const [i, id] of discIds.entries()) await record(technician, 'recordDisc', 'RecordDiscInput', { id, leafId: bench.leafId, label: `S-${i + 1}`, diameterMm: '10' });
  runId = newId();
  const openedAt = new Date().toISOString();
  await record(technician, 'openDryingRun', 'OpenDryingRunInput', { id: runId, label: 'R-speaking', rigId: bench.rigId, balanceId: bench.balanceId, discIds, openedAt });
  manager = await stage.signedIn('MANAGER');
});

afterAll(() => stage.close());

scene('a line format is tried on pasted lines, told why not, and set', async () => {
  await visit(manager, `/instruments/${bench.balanceId}`);
  await manager.getByLabel('Pattern').fill('{mark},{load},{value} {unit}');
  await manager.getByLabel('Marks of a net load').fill('NT');
  await manager.getByLabel('Marks of a gross load').fill('GS');
  await manager.getByLabel('Lines to try').fill('ST,NT,+   60.30 mg\nUS,NT,+   60.29 mg\nERR 51');
  const table = manager.getByRole('table', { name: 'What is read from each line' });
  await reads(table, 'stable: taken');
  await reads(table, 'moving: not taken');
  await reads(table, '+60.30 mg, net');
  await reads(table, 'It fits up to {mark}; then "," is expected.');
  for (const size of [DESK, PHONE]) {
    await manager.setViewportSize(size);
    expect([...(await sidewaysFindings(manager)), ...(await axeFindings(manager))]).toEqual([]);
  }
  await manager.setViewportSize(DESK);
  const section = manager.getByRole('region', { name: 'Line format' });
  await reads(section, 'not set yet');
  await manager.getByRole('button', { name: 'Set the line format' }).click();
  await section.getByText('not set yet').waitFor({ state: 'detached' });
  const format = async (): Promise<any> => (await stage.lab.as('AUDITOR').ask<any>('query ($id: UUID!) { instrument(id: $id) { lineFormat { pattern netMarks } } }', { id: bench.balanceId })).instrument.lineFormat;
  expect(await format()).toEqual({ pattern: '{mark},{load},{value} {unit}', netMarks: ['NT'] });
});

/** A simulated balance on a TCP line, and a bench computer that listens to it. */
async function benchComputer(): Promise<{ balance: SimulatedBalance; close: () => Promise<void> }> {
  const { createAccessToken } = await stage.lab.as('TECHNICIAN').ask<any>('mutation ($input: CreateAccessTokenInput!) { createAccessToken(input: $input) { secret } }', {
    input: { id: newId(), label: 'Bench 2', scopes: ['LISTEN'], expiresAt: new Date(Date.now() + 86_400_000).toISOString(), password: PASSWORD },
  });
  const balance = await SimulatedBalance.start({ port: 0, ratePerSecond: 40, seed: 3 });
  const format = { pattern: '{mark},{load},{value} {unit}', stableMarks: ['ST'], movingMarks: ['US'], netMarks: ['NT'], grossMarks: ['GS'], decimalMark: 'EITHER', unit: 'mg', unitWords: [], unitOnlyWhenStable: false } as const;
  const listener = new Listener(
    byToken(stage.server.url, createAccessToken.secret), { id: bench.balanceId, label: 'Balance 1', format, terminator: 'CRLF', baudRate: 9600, dataBits: 8, parity: 'NONE', stopBits: 1 },
    `tcp://127.0.0.1:${balance.port}`, await Spool.open(join(mkdtempSync(join(tmpdir(), 'threadleaf-line-')), 'spool.jsonl')), () => undefined,
  );
  listener.start();
  return { balance, close: async () => { await listener.close(); await balance.close(); } };
}

scene('what the balance says comes into the field: Enter records it, or nothing but the balance, and it can be taken back', async () => {
  const { balance, close } = await benchComputer();
  try {
    const page = await stage.signedIn('TECHNICIAN', PHONE);
    const listening = listeners('lines');
    await visit(page, `/bench/${runId}`);
    await page.getByLabel('At this device').selectOption('Weigh only');
    const first = page.getByLabel('Mass of S-1');
    await first.waitFor();
    await reads(page, 'Balance 1 is not connected to this computer');
    // Only what is heard once the window listens comes to it.
    await listening();
    balance.lay(70.12);
    await reads(page, /^Balance 1 says ST,NT,\+ +70\.12 mg heard by Bench 2\. Enter records it\.$/);
    for (const size of [DESK, PHONE]) {
      await page.setViewportSize(size);
      expect([...(await sidewaysFindings(page)), ...(await axeFindings(page))]).toEqual([]);
    }
    expect(await first.inputValue()).toBe('70.12');
    await first.press('Enter');
    await reads(page, 'Recorded: S-1, turgid, 70.12 mg.');
    // The window listens on for the next field.
    await page.getByLabel('Mass of S-2').waitFor();
    await page.getByLabel('Take a stable line at once, without Enter').check();
    balance.lay(0);
    balance.lay(69.41);
    await reads(page, 'Recorded: S-2, turgid, 69.41 mg.');
    await page.getByRole('button', { name: 'Take it back' }).click();
    await page.getByLabel('Mass of S-2').waitFor();
  } finally {
    await close();
  }
  const { dryingRun } = await stage.lab.as('AUDITOR').ask<any>('query ($id: UUID!) { dryingRun(id: $id) { weighings { disc { label } massText entryMode rawLine stable clockOffsetMs amendedBy { replacementId reason } } } }', { id: runId });
  expect(dryingRun.weighings).toEqual([
    { disc: { label: 'S-1' }, massText: '70.12', entryMode: 'LINE', rawLine: 'ST,NT,+   70.12 mg', stable: true, clockOffsetMs: expect.any(Number), amendedBy: null },
    { disc: { label: 'S-2' }, massText: '69.41', entryMode: 'LINE', rawLine: 'ST,NT,+   69.41 mg', stable: true, clockOffsetMs: expect.any(Number), amendedBy: { replacementId: null, reason: 'Taken back at the bench right after it was recorded.' } },
  ]);
});
