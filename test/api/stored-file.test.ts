import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { checkDatabase, restoreBackup, writeBackup } from '../../apps/api/src/main.js';
import { mediaTypeOf } from '../../apps/api/src/modules/stored-file/media-type.js';
import { closeDatabase, withClient } from '../../apps/cli/src/database/roles.js';
import { serverOfThisRun } from '../support/database.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { PIXEL, sendFile, storeFile } from '../support/stored-file.js';

let server: TestServer;
let lab: TestLab;
let other: TestLab;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab with files');
  other = await server.openLab('Other lab');
});

afterAll(() => server.close());

const hex = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex');
const problemOf = async (answer: Promise<Response>): Promise<any> => {
  const response = await answer;
  return { status: response.status, ...((await response.json()) as any).problem };
};
const given = (more: Record<string, string> = {}): Record<string, string> => ({ id: newId(), name: 'leaf 7.png', purpose: 'PHOTO', ...more });

describe('a stored file', () => {
  it('comes back byte for byte, under the id it was sent with and the hash of its bytes', async () => {
    const technician = lab.as('TECHNICIAN');
    const parameters = given({ type: 'image/png', sha256: hex(PIXEL) });
    const sent = await sendFile(technician, parameters, PIXEL);
    expect(sent.status).toBe(201);
    expect(await sent.json()).toMatchObject({ replayed: false, storedFile: { id: parameters['id'], name: 'leaf 7.png', mediaType: 'image/png', sizeBytes: PIXEL.length, sha256: hex(PIXEL), purpose: 'PHOTO' } });
    const fetched = await lab.as('AUDITOR').request(`/files/${parameters['id']}`);
    expect(Buffer.from(await fetched.arrayBuffer()).equals(PIXEL)).toBe(true);
    const { storedFile } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { storedFile(id: $id) { name sha256 url recordedBy { displayName } } }', { id: parameters['id'] });
    expect(storedFile).toEqual({ name: 'leaf 7.png', sha256: hex(PIXEL), url: `/files/${parameters['id']}`, recordedBy: { displayName: 'technician of Lab with files' } });
    const { ledger } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { ledger(subjectId: $id) { nodes { action subjectKind } } }', { id: parameters['id'] });
    expect(ledger.nodes).toEqual([{ action: 'store', subjectKind: 'stored_file' }]);
  });

  it('sent again is the same write; another file under its id is refused', async () => {
    const parameters = given();
    await sendFile(lab.as('TECHNICIAN'), parameters, PIXEL);
    const again = await sendFile(lab.as('TECHNICIAN'), parameters, PIXEL);
    expect({ status: again.status, replayed: ((await again.json()) as any).replayed }).toEqual({ status: 200, replayed: true });
    expect(await problemOf(sendFile(lab.as('TECHNICIAN'), parameters, Buffer.from('another')))).toMatchObject({ status: 409, code: 'REPLAY_MISMATCH' });
    expect(await problemOf(sendFile(lab.as('MANAGER'), parameters, PIXEL))).toMatchObject({ status: 409, code: 'REPLAY_MISMATCH' });
  });

  it('lies once however often its bytes are sent', async () => {
    const bytes = Buffer.from('the same curve\n');
    await storeFile(lab.as('TECHNICIAN'), 'a.txt', bytes, 'INSTRUMENT_FILE');
    await storeFile(lab.as('MANAGER'), 'b.txt', bytes, 'INSTRUMENT_FILE');
    await withClient(server.database.ownerUrl, async (client) => {
      const { rows } = await client.query('SELECT (SELECT count(*)::int FROM stored_bytes WHERE sha256 = $1) AS laid, (SELECT count(*)::int FROM stored_file WHERE sha256 = $1) AS files', [hex(bytes)]);
      expect(rows[0]).toEqual({ laid: 1, files: 2 });
    });
  });

  it('is handed out so that nothing in it can act', async () => {
    const photo = await storeFile(lab.as('TECHNICIAN'), 'p.png', PIXEL);
    const text = await storeFile(lab.as('TECHNICIAN'), 'Spektrum "äü".txt', Buffer.from('<script>alert(1)</script>'), 'SPECTRUM');
    const shown = await lab.as('MANAGER').request(photo.url, { headers: { accept: 'text/html' } });
    expect(Object.fromEntries(shown.headers)).toMatchObject({
      'content-type': 'image/png', 'content-disposition': "inline; filename*=UTF-8''p.png", 'cache-control': 'private, max-age=31536000, immutable',
      'x-content-type-options': 'nosniff', 'content-security-policy': "default-src 'none'; sandbox", 'cross-origin-resource-policy': 'same-origin',
    });
    const saved = await lab.as('MANAGER').request(text.url);
    expect(saved.headers.get('content-type')).toBe('text/plain; charset=utf-8');
    expect(saved.headers.get('content-disposition')).toBe("attachment; filename*=UTF-8''Spektrum%20%22%C3%A4%C3%BC%22.txt");
    expect((await lab.as('MANAGER').request(photo.url, { headers: { 'if-none-match': shown.headers.get('etag')! } })).status).toBe(304);
  });
});

describe('a file is refused', () => {
  it('from nobody, from who may only read, and from a page of another site', async () => {
    expect(await problemOf(sendFile(server.stranger(), given(), PIXEL))).toMatchObject({ status: 401 });
    expect(await problemOf(sendFile(lab.as('AUDITOR'), given(), PIXEL))).toMatchObject({ status: 403 });
    expect(await problemOf(sendFile(lab.as('TECHNICIAN'), given(), PIXEL, { 'x-threadleaf': '' }))).toMatchObject({ status: 403 });
    expect(await problemOf(sendFile(lab.as('TECHNICIAN'), given(), PIXEL, { 'sec-fetch-site': 'cross-site' }))).toMatchObject({ status: 403 });
  });

  it('to other labs and strangers, by any address', async () => {
    const { url } = await storeFile(lab.as('TECHNICIAN'), 'secret.png', PIXEL);
    expect(await problemOf(other.as('MANAGER').request(url))).toMatchObject({ status: 404, code: 'NOT_FOUND' });
    expect(await problemOf(server.stranger().request(url))).toMatchObject({ status: 401 });
    expect(await problemOf(lab.as('MANAGER').request('/files/not-an-id'))).toMatchObject({ status: 400, field: 'id' });
  });

  it('when it is empty, too large, damaged on the way, or has no name, purpose or id', async () => {
    const technician = lab.as('TECHNICIAN');
    expect(await problemOf(sendFile(technician, given(), Buffer.alloc(0)))).toMatchObject({ status: 400, field: 'file' });
    expect(await problemOf(sendFile(technician, given(), Buffer.alloc(20 * 1024 * 1024 + 1, 65)))).toMatchObject({ status: 413, field: 'file' });
    expect(await problemOf(sendFile(technician, given({ sha256: hex(Buffer.from('other')) }), PIXEL))).toMatchObject({ status: 400, field: 'file', message: expect.stringContaining('The file did not arrive') });
    expect(await problemOf(sendFile(technician, given({ name: ' ' }), PIXEL))).toMatchObject({ status: 400, field: 'name' });
    expect(await problemOf(sendFile(technician, given({ purpose: 'FUN' }), PIXEL))).toMatchObject({ status: 400, field: 'purpose' });
    expect(await problemOf(sendFile(technician, given({ id: '7' }), PIXEL))).toMatchObject({ status: 400, field: 'id' });
  });

  it('when its bytes are of another kind than is said, or of one a browser would run', () => {
    const said = (bytes: Uint8Array, type: string | null): string => {
      try {
        return mediaTypeOf(bytes, type);
      } catch (error) {
        return (error as { code: string }).code;
      }
    };
    const text = Buffer.from('wavelength,power\n1470,12.5\n');
    expect(said(PIXEL, 'image/jpeg')).toBe('MEDIA_TYPE');
    expect(said(text, 'image/png')).toBe('MEDIA_TYPE');
    expect(said(Buffer.from('<svg onload="alert(1)"/>'), 'image/svg+xml')).toBe('MEDIA_TYPE');
    expect(said(Buffer.from('<html>'), 'text/html')).toBe('MEDIA_TYPE');
    expect(said(Buffer.from([0, 1, 2, 3]), null)).toBe('MEDIA_TYPE');
    expect(said(Buffer.from([0x41, 0xff]), 'text/plain')).toBe('MEDIA_TYPE');
    expect([said(PIXEL, null), said(PIXEL, 'image/png'), said(text, 'text/csv'), said(text, null), said(Buffer.from('%PDF-1.7\n'), 'application/octet-stream')])
      .toEqual(['image/png', 'image/png', 'text/csv', 'text/plain', 'application/pdf']);
    expect(said(Buffer.from([0x50, 0x4b, 3, 4]), 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet')).toBe('application/zip');
  });
});

describe('the bytes', () => {
  it('are in a backup, come back with it, and are missed by the check when one of them was altered', async () => {
    const large = Buffer.alloc(3 * 1024 * 1024, 'curve of the instrument;');
    const file = await storeFile(lab.as('TECHNICIAN'), 'long.txt', large, 'INSTRUMENT_FILE');
    await server.served.settleLedger(lab.labId);
    const folder = mkdtempSync(join(tmpdir(), 'threadleaf-files-'));
    const name = `restored_files_${Date.now()}`;
    const { ownerUrl } = serverOfThisRun();
    const at = (url: string): string => Object.assign(new URL(url), { pathname: `/${name}` }).href;
    try {
      await writeBackup(server.database.appUrl, join(folder, 'all.backup'));
      await withClient(ownerUrl, async (client) => {
        await client.query(`CREATE DATABASE ${name}`);
        await closeDatabase(client, name);
      });
      await restoreBackup(at(ownerUrl), join(folder, 'all.backup'));
      expect((await checkDatabase(at(ownerUrl))).flatMap(({ flaws }) => flaws)).toEqual([]);
      await withClient(at(ownerUrl), async (client) => {
        const { rows } = await client.query('SELECT bytes FROM stored_bytes WHERE sha256 = $1', [file.sha256]);
        expect(large.equals(rows[0].bytes)).toBe(true);
        await client.query('SET session_replication_role = replica');
        await client.query('UPDATE stored_bytes SET bytes = set_byte(bytes, 2000000, get_byte(bytes, 2000000) # 1) WHERE sha256 = $1', [file.sha256]);
      });
      const found = (await checkDatabase(at(ownerUrl))).flatMap(({ flaws }) => flaws);
      expect(found).toEqual([{ about: `stored_bytes ${file.sha256}`, says: 'They are not what was stored: their SHA-256 differs.' }]);
    } finally {
      rmSync(folder, { recursive: true });
      await withClient(ownerUrl, (client) => client.query(`DROP DATABASE IF EXISTS ${name} WITH (FORCE)`));
    }
  });
});
