import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseCanonical, parseCheckpoint, unzipPack, zipPack, type PackFiles } from '#libs/ledger';
import { tellFindings } from '../../apps/cli/src/verify/tell-findings.js';
import { verifyFile, type Verified } from '../../apps/cli/src/verify/verify-file.js';
import { record } from '../support/chain.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let filled: FilledLab;
let kept: string;
const folder = mkdtempSync(join(tmpdir(), 'threadleaf-pack-'));

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Packing lab');
  await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: newId(), name: 'Vine' });
  await server.served.settleLedger(lab.labId);
  kept = (await lab.as('AUDITOR').ask<any>('{ checkpoint { text } }')).checkpoint.text;
  filled = await fillLab(lab);
}, 180_000);

afterAll(async () => {
  rmSync(folder, { recursive: true });
  await server.close();
});

const PACK = 'query ($kind: String!, $id: UUID!, $keptSizes: [Int!]) { evidencePack(kind: $kind, id: $id, keptSizes: $keptSizes) { fileName base64 sha256 bytes } }';

async function packOf(kind: string, id: string): Promise<Uint8Array> {
  const { evidencePack } = await lab.as('AUDITOR').ask<any>(PACK, { kind, id, keptSizes: [parseCheckpoint(kept).size] });
  const zip = Buffer.from(evidencePack.base64, 'base64');
  expect(zip.length).toBe(evidencePack.bytes);
  return zip;
}

function verified(zip: Uint8Array, more: { checkpoint?: string; key?: string } = {}): Verified {
  const pack = join(folder, 'pack.zip');
  writeFileSync(pack, zip);
  const { checkpoint, ...rest } = more;
  if (checkpoint !== undefined) writeFileSync(join(folder, 'kept.txt'), checkpoint);
  return verifyFile({ pack, ...rest, ...(checkpoint !== undefined && { checkpoint: join(folder, 'kept.txt') }) });
}

const linesOf = (files: PackFiles, path: string): any[] => Buffer.from(files.get(path)!).toString('utf8').trimEnd().split('\n').map((line) => JSON.parse(line));

describe('the evidence pack of a decision', () => {
  it('holds without server or database, against a checkpoint kept before and the published key', async () => {
    const zip = await packOf('decision', filled.decisionId);
    const { ledgerKeys } = await lab.as('AUDITOR').ask<any>('{ ledgerKeys { key } }');
    const { holds, findings } = verified(zip, { checkpoint: kept, key: ledgerKeys[0].key });
    expect(findings.filter(({ status }) => status === 'fails')).toEqual([]);
    expect(holds).toBe(true);
    for (const check of ['files', 'seal', 'checkpoint', 'key', 'kept checkpoint', 'entries', 'records', 'lineage', 'tables', 'provenance']) {
      expect(findings).toContainEqual(expect.objectContaining({ check, status: 'holds' }));
    }
    // Every record says in its own hashed content what it rests on.
    expect(findings.filter(({ check, status }) => check === 'lineage' && status !== 'holds')).toEqual([]);
    expect(tellFindings(findings).at(-1)).toContain('Nothing in this pack fails');
  });

  it('shows every raw mass, the signatures, the names, and a page to read', async () => {
    const files = unzipPack(await packOf('decision', filled.decisionId));
    const records = linesOf(files, 'records.jsonl');
    const kinds = new Set(records.map(({ kind }) => kind));
    for (const kind of ['decision', 'trip', 'installation', 'threshold_certificate', 'calibration_version', 'rwc_series', 'weighing', 'meter_reading', 'instrument', 'signature']) expect(kinds).toContain(kind);
    expect(records.filter(({ kind }) => kind === 'weighing')).toHaveLength(6 * (1 + 8 + 2));
    expect(records.find(({ kind }) => kind === 'instrument').instrumentKind).toMatch(/BALANCE|POWER_METER|OVEN/);
    const page = Buffer.from(files.get('thread.html')!).toString('utf8');
    const line = records.find(({ kind }) => kind === 'weighing').rawLine;
    expect(page).toContain(line);
    expect(page).toContain('approved by manager of Packing lab');
    expect(page).not.toMatch(/<script|https?:\/\//);
    expect(parseCanonical(Buffer.from(files.get('agents.json')!).toString('utf8'))).toContainEqual(expect.objectContaining({ name: 'technician of Packing lab' }));
  });

  it('has the thread as a paper, drawn, with every face embedded, listed and sealed like all else', async () => {
    const files = unzipPack(await packOf('decision', filled.decisionId));
    const paper = Buffer.from(files.get('thread.pdf')!);
    const text = paper.toString('latin1');
    expect(text.startsWith('%PDF-1.7')).toBe(true);
    expect(text.match(/\/Type \/Page\b(?!s)/g)!.length).toBeGreaterThan(5);
    expect(text.match(/\/Type \/FontDescriptor/g)?.length).toBe(text.match(/\/FontFile[23]? /g)?.length);
    expect(paper.length).toBeLessThan(400_000);
    const manifest = JSON.parse(Buffer.from(files.get('manifest.json')!).toString('utf8'));
    expect(manifest.files).toContainEqual(expect.objectContaining({ path: 'thread.pdf', mediaType: 'application/pdf', bytes: paper.length }));
  });

  it('is told on paper for any record and either way, to those of the lab alone', async () => {
    const PAPER = 'query ($kind: String!, $id: UUID!, $direction: ThreadDirection!) { threadPaper(kind: $kind, id: $id, direction: $direction) { fileName base64 bytes } }';
    const weighing = { kind: 'weighing', id: filled.run.weighingIds[0]![0]!, direction: 'UP' };
    const { threadPaper } = await lab.as('AUDITOR').ask<any>(PAPER, weighing);
    expect(threadPaper.fileName).toBe(`thread-up-weighing-${weighing.id}.pdf`);
    expect(Buffer.from(threadPaper.base64, 'base64').toString('latin1').startsWith('%PDF-1.7')).toBe(true);
    const other = await server.openLab('Reading lab');
    expect((await other.as('AUDITOR').answer<any>(PAPER, weighing)).errors).toMatchObject([{ extensions: { problem: { code: 'NOT_FOUND' } } }]);
  });

  it('brings a schema that each of its records keeps, and a unit with each number that has one', async () => {
    const files = unzipPack(await packOf('decision', filled.decisionId));
    for (const document of linesOf(files, 'records.jsonl')) {
      const schema = JSON.parse(Buffer.from(files.get(`schemas/${document.kind}.schema.json`)!).toString('utf8'));
      expect(Object.keys(document)).toEqual(expect.arrayContaining(schema.required));
      for (const [name, value] of Object.entries(document)) {
        const types = [schema.properties[name].type ?? []].flat();
        const type = value === null ? 'null' : Array.isArray(value) ? 'array' : Number.isInteger(value) ? 'integer' : typeof value;
        if (types.length > 0 && !(type === 'integer' && types.includes('number'))) expect({ kind: document.kind, name, types }).toMatchObject({ types: expect.arrayContaining([type]) });
      }
    }
    const { resources } = JSON.parse(Buffer.from(files.get('tables/datapackage.json')!).toString('utf8'));
    const unitOf = (kind: string, name: string): string => resources.find((one: any) => one.name === kind).schema.fields.find((field: any) => field.name === name).unit;
    expect([unitOf('weighing', 'massMg'), unitOf('meter_reading', 'powerNw'), unitOf('rig', 'bandCentreNm'), unitOf('oven_cycle', 'setTemperatureC')]).toEqual(['mg', 'nW', 'nm', 'Cel']);
  });

  it('does not hold once anything in it was changed, cut or left out', async () => {
    const zip = await packOf('decision', filled.decisionId);
    const files = unzipPack(zip);
    // Schemas and tables are alike to a verifier: one of each stands for all.
    const paths = [...files.keys()].filter((path) => !/^(schemas|tables)\/(?!weighing\.|datapackage)/.test(path));
    expect(paths.length).toBeGreaterThan(13);
    for (const path of paths) {
      const changed = new Map(files);
      const bytes = Uint8Array.from(files.get(path)!);
      bytes[bytes.length >> 1]! ^= 1;
      changed.set(path, bytes);
      expect({ path, holds: verified(zipPack(changed)).holds }).toEqual({ path, holds: false });
      const without = new Map(files);
      without.delete(path);
      // A pack without seal is told to be unsealed.
      if (path !== 'seal.txt') expect({ path, holds: verified(zipPack(without)).holds }).toEqual({ path, holds: false });
    }
    expect(verified(zip.subarray(0, zip.length - 40)).holds).toBe(false);
  }, 180_000);

  it('of another ledger does not agree with a kept checkpoint', async () => {
    const other = await server.openLab('Strange lab');
    await record(other.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: newId(), name: 'Vine' });
    await server.served.settleLedger(other.labId);
    const strange = (await other.as('AUDITOR').ask<any>('{ checkpoint { text } }')).checkpoint.text;
    expect(verified(await packOf('decision', filled.decisionId), { checkpoint: strange }).holds).toBe(false);
  });
});

describe('a pack', () => {
  it('is made of certificates too, of nothing else, and of nobody else', async () => {
    expect(verified(await packOf('threshold_certificate', filled.certificateId)).holds).toBe(true);
    const refused = async (client: TestLab, kind: string, id: string): Promise<unknown> =>
      (await client.as('AUDITOR').answer<any>(PACK, { kind, id })).errors?.[0]?.extensions;
    expect(await refused(lab, 'weighing', filled.run.weighingIds[0]![0]!)).toMatchObject({ problem: { code: 'INPUT', field: 'kind' } });
    const other = await server.openLab('Curious lab');
    expect(await refused(other, 'decision', filled.decisionId)).toMatchObject({ problem: { code: 'NOT_FOUND' } });
  });
});
