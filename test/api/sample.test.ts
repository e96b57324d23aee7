import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let other: TestLab;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('First lab');
  other = await server.openLab('Second lab');
});

afterAll(() => server.close());

const RECORD_CROP = 'mutation ($input: RecordCropInput!) { recordCrop(input: $input) { replayed crop { id name contentHash recordedBy { displayName } } problem { code field remedy } } }';
const CROPS = '{ crops { id name } }';

describe('samples', () => {
  it('are recorded once, whoever repeats the request', async () => {
    const input = { id: newId(), name: 'Fig' };
    const first = await lab.as('MANAGER').ask<any>(RECORD_CROP, { input });
    expect(first.recordCrop).toMatchObject({ replayed: false, problem: null, crop: { name: 'Fig', recordedBy: { displayName: 'manager of First lab' } } });
    const again = await lab.as('MANAGER').ask<any>(RECORD_CROP, { input });
    expect(again.recordCrop).toMatchObject({ replayed: true, crop: { contentHash: first.recordCrop.crop.contentHash } });
    const changed = await lab.as('MANAGER').ask<any>(RECORD_CROP, { input: { ...input, name: 'Quince' } });
    expect(changed.recordCrop).toMatchObject({ crop: null, problem: { code: 'REPLAY_MISMATCH', field: 'name' } });
  });

  it('of one lab do not exist for another', async () => {
    await lab.as('MANAGER').ask(RECORD_CROP, { input: { id: newId(), name: 'Medlar' } });
    const seen = await other.as('MANAGER').ask<any>(CROPS);
    expect(seen.crops).toEqual([]);
  });

  it('refuse a name that is taken, and name the field', async () => {
    await lab.as('MANAGER').ask(RECORD_CROP, { input: { id: newId(), name: 'Olive' } });
    const answer = await lab.as('MANAGER').ask<any>(RECORD_CROP, { input: { id: newId(), name: 'olive' } });
    expect(answer.recordCrop.problem).toMatchObject({ code: 'INPUT', field: 'name' });
  });

  it('are refused to roles without the right, and to strangers', async () => {
    const refused = await lab.as('AUDITOR').answer(RECORD_CROP, { input: { id: newId(), name: 'Pear' } });
    expect(refused.errors?.[0]?.extensions.code).toBe('FORBIDDEN');
    const stranger = await server.stranger().answer(CROPS);
    expect(stranger.errors?.[0]?.extensions.code).toBe('UNAUTHENTICATED');
  });
});
