import { axeFindings, DESK, openStage, PHONE, reads, scene, sidewaysFindings, visit, type Page, type Stage } from '../support/browser.js';
import { furnish, type Bench } from '../support/chain.js';

let stage: Stage;
let bench: Bench;
let manager: Page;

beforeAll(async () => {
  stage = await openStage('Speaking lab');
  bench = await furnish(stage.lab.as('MANAGER'));
  manager = await stage.signedIn('MANAGER');
}, 120_000);

afterAll(() => stage.close());

scene('a line format is tried on pasted lines, told why not, and set', async () => {
  await visit(manager, `/instruments/${bench.balanceId}`);
  await manager.getByLabel('Pattern').fill('{mark},{load},{value} {unit}');
  await manager.getByLabel('Marks of a net load').fill('NT');
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
  await manager.getByRole('button', { name: 'Set the line format' }).click();
  const format = async (): Promise<any> => (await stage.lab.as('AUDITOR').ask<any>('query ($id: UUID!) { instrument(id: $id) { lineFormat { pattern netMarks } } }', { id: bench.balanceId })).instrument.lineFormat;
  for (let i = 0; i < 60 && !(await format()); i += 1) await manager.waitForTimeout(100);
  expect(await format()).toEqual({ pattern: '{mark},{load},{value} {unit}', netMarks: ['NT'] });
});
