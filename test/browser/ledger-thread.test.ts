import { readFileSync } from 'node:fs';
import { withClient } from '../../apps/cli/src/database/roles.js';
import { axeFindings, DESK, openStage, PHONE, scene, sidewaysFindings, visit, type Page, type Stage } from '../support/browser.js';
import { record, WEIGH, weighing } from '../support/chain.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';

let stage: Stage;
let filled: FilledLab;
let page: Page;
let kept: string;
let typedId: string;

beforeAll(async () => {
  stage = await openStage('Audited lab');
  filled = await fillLab(stage.lab);
  await stage.server.served.settleLedger(stage.lab.labId);
  kept = (await stage.lab.as('AUDITOR').ask<any>('{ checkpoint { text } }')).checkpoint.text;
  const typed = weighing(filled.bench, filled.run.discIds[0]!, 'FRESH', 20, 60, { entryMode: 'TYPED' }) as { id: string };
  typedId = typed.id;
  await record(stage.lab.as('TECHNICIAN'), WEIGH[0], WEIGH[1], typed);
  await stage.server.served.settleLedger(stage.lab.labId);
  page = await stage.signedIn('AUDITOR');
}, 180_000);

afterAll(() => stage.close());

async function noFindings(): Promise<void> {
  for (const size of [DESK, PHONE]) {
    await page.setViewportSize(size);
    expect([...(await sidewaysFindings(page)), ...(await axeFindings(page))]).toEqual([]);
  }
  await page.setViewportSize(DESK);
}

const savedText = async (press: () => Promise<void>): Promise<{ name: string; bytes: Buffer }> => {
  const [download] = await Promise.all([page.waitForEvent('download', { timeout: 60_000 }), press()]);
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
};

describe('the ledger on the screen', () => {
  scene('shows an exception with its count, and its entries alone', async () => {
    await visit(page, '/ledger');
    await page.getByRole('button', { name: 'Typed by hand 1' }).click();
    await page.getByRole('heading', { level: 2, name: 'Typed by hand' }).waitFor();
    await page.getByText('1 entry', { exact: true }).waitFor();
    await page.getByRole('link', { name: /^weighing of / }).waitFor();
    await noFindings();
    await page.getByRole('textbox', { name: /Id of a record or entry/ }).fill(filled.decisionId);
    await page.getByText('No entry fits.').waitFor();
  });

  scene('proves an entry in the browser, and says what it cannot prove', async () => {
    await visit(page, `/ledger/entry/${typedId}`);
    await page.getByRole('heading', { level: 1, name: /^Proof of the weighing of / }).waitFor();
    expect(await page.getByText('✓ Holds').count()).toBe(3);
    await page.getByText('Is it the lab’s own key?').waitFor();
    await noFindings();
    await page.getByRole('textbox', { name: /Checkpoint that you kept/ }).fill(kept);
    await page.getByRole('button', { name: 'Compare with the ledger of now' }).click();
    await page.getByText(/are the beginning of the/).waitFor();
  });

  scene('finds out a server that shows another content than was entered', async () => {
    const forged = await stage.signedIn('AUDITOR');
    await forged.route('**/graphql', async (route) => {
      const answer = await route.fetch();
      const text = await answer.text();
      // The page shows a mass that was never recorded; the proof is the true one.
      await route.fulfill({ response: answer, body: text.includes('"contentHash"') ? text.replace(/"contentHash":"[0-9a-f]{4}/g, '"contentHash":"dead') : text });
    });
    await visit(forged, `/ledger/entry/${typedId}`);
    await forged.getByText('This entry is not proven.').waitFor();
    await forged.getByText('The entry that was hashed is not the one shown on this page.').waitFor();
    await forged.close();
  });

  scene('hands out checkpoints and the verifier, and compares a kept checkpoint that was altered', async () => {
    await visit(page, '/ledger/checkpoints');
    const saved = await savedText(() => page.getByRole('button', { name: 'Save the newest' }).click());
    expect(saved.name).toMatch(/^checkpoint-\d+\.txt$/);
    expect(saved.bytes.toString('utf8')).toContain(`threadleaf/ledger/${stage.lab.labId}`);
    await page.getByLabel(/or load it from a file/).setInputFiles({ name: 'kept.txt', mimeType: 'text/plain', buffer: Buffer.from(kept.replace(/^(\d+)$/m, (size) => String(Number(size) - 1))) });
    await page.getByText('✗ Fails').waitFor();
    const verifier = await savedText(() => page.getByRole('button', { name: 'Save verify.mjs' }).click());
    expect(verifier.bytes.toString('utf8')).toContain('Checks an evidence pack');
    await noFindings();
  });
});

describe('results computed again', () => {
  scene('are asked for, and the outcome is told and kept', async () => {
    await visit(page, '/ledger/results');
    await page.getByText('Nothing was computed again yet.').waitFor();
    await page.getByRole('button', { name: 'Compute all again now' }).click();
    await page.getByText(/^All \d+ results came out the same, to the last digit\.$/).waitFor({ timeout: 60_000 });
    await page.getByRole('table', { name: 'Comparisons, newest first' }).getByRole('cell', { name: 'none', exact: true }).waitFor();
    await noFindings();
  });

  scene('name the value that does not follow any more', async () => {
    const one = `(SELECT id FROM rwc_series WHERE lab_id = '${stage.lab.labId}' ORDER BY id LIMIT 1)`;
    const rwc = "(document #>> '{points,2,rwc}')::numeric";
    const moveBy = (by: string): string => `SET session_replication_role = replica; UPDATE rwc_series SET document = jsonb_set(document, '{points,2,rwc}', to_jsonb(${rwc} ${by})) WHERE id = ${one}`;
    const asOwner = (sql: string): Promise<unknown> => withClient(stage.server.database.ownerUrl, (owner) => owner.query(sql));
    await asOwner(moveBy('+ 0.01'));
    await page.getByRole('button', { name: 'Compute all again now' }).click();
    await page.getByText(/^1 of \d+ results came out otherwise\.$/).waitFor({ timeout: 60_000 });
    await page.getByRole('rowheader', { name: 'points[2].rwc' }).waitFor();
    await noFindings();
    await asOwner(moveBy('- 0.01'));
  });
});

describe('the thread on the screen', () => {
  scene('is narrowed by what occurs in it, and computed anew', async () => {
    await visit(page, `/thread/decision/${filled.decisionId}?direction=down`);
    await page.getByRole('combobox', { name: 'Kind of record' }).selectOption('threshold_certificate');
    await page.getByRole('heading', { level: 2, name: '… with the bias of a certificate' }).waitFor();
    await page.getByRole('heading', { level: 2, name: '… after a unit had tripped' }).waitFor({ state: 'hidden' });
    await page.getByRole('button', { name: 'Recompute now' }).click();
    await page.getByText(/^All \d+ results came out the same/).waitFor({ timeout: 60_000 });
    await noFindings();
  });

  scene('is saved as a paper and as a pack', async () => {
    const paper = await savedText(() => page.getByRole('button', { name: 'Thread as PDF' }).click());
    expect([paper.name, paper.bytes.subarray(0, 8).toString('latin1')]).toEqual([`thread-down-decision-${filled.decisionId}.pdf`, '%PDF-1.7']);
    const pack = await savedText(() => page.getByRole('button', { name: 'Evidence pack' }).click());
    expect(pack.bytes.subarray(0, 2).toString('latin1')).toBe('PK');
  });
});
