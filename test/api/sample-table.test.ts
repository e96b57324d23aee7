import { codeOf, codeText } from '#libs/label';
import { record } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let technician: Client;
let cropId: string;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab of samples');
  technician = lab.as('TECHNICIAN');
  cropId = newId();
  await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Fig' });
});

afterAll(() => server.close());

const bulk = (input: object): Promise<any> => record(technician, 'recordSamples', 'RecordSamplesInput', input, 'plants { id label } leaves { id label } discs { id label leaf { id label plant { id } } }');
const refused = async (mutation: string, type: string, input: object, client = technician): Promise<any> =>
  (await client.ask<any>(`mutation ($input: ${type}!) { ${mutation}(input: $input) { problem { code field message } } }`, { input }))[mutation].problem;

describe('bulk recording', () => {
  const input = (more: object = {}): object => ({
    id: newId(), cropId, plantPattern: 'T-##', newPlants: 2, leavesPerPlant: 3, discsPerLeaf: 2, cultivar: 'Bornholm', treatment: 'dry', growthStage: 'BBCH 71', diameterMm: '10', leafSide: 'ADAXIAL_UP', ...more,
  });

  it('makes plants, leaves and discs with the labels of the preview, all in one go, once', async () => {
    const given = input();
    const { previewSamples: preview } = await technician.ask<any>('query ($input: RecordSamplesInput!) { previewSamples(input: $input) { plants leaves discs plantCount leafCount discCount taken problem { message } } }', { input: given });
    expect(preview).toMatchObject({ plants: ['T-01', 'T-02'], plantCount: 2, leafCount: 6, discCount: 12, taken: [], problem: null });
    const made = await bulk(given);
    expect(made.replayed).toBe(false);
    expect(made.plants.map(({ label }: any) => label)).toEqual(preview.plants);
    expect(made.leaves.map(({ label }: any) => label)).toEqual(preview.leaves);
    expect(made.discs.map(({ label }: any) => label)).toEqual(preview.discs);
    expect(made.discs[11]).toMatchObject({ label: 'T-02-L3-D2', leaf: { label: 'T-02-L3', plant: { id: made.plants[1].id } } });
    const again = await bulk(given);
    expect(again.replayed).toBe(true);
    expect(again.discs.map(({ id }: any) => id)).toEqual(made.discs.map(({ id }: any) => id));
    const { discs } = await technician.ask<any>('{ discs { totalCount nodes { label leafSide leaf { growthStage plant { cultivar treatment } } } } }');
    expect(discs.totalCount).toBe(12);
    expect(discs.nodes[0]).toEqual({ label: 'T-02-L3-D2', leafSide: 'ADAXIAL_UP', leaf: { growthStage: 'BBCH 71', plant: { cultivar: 'Bornholm', treatment: 'dry' } } });
  });

  it('writes nothing when one label is taken, and says which', async () => {
    await bulk(input({ plantPattern: 'U-##', newPlants: 1 }));
    const given = input({ plantPattern: 'U-##', newPlants: 3 });
    expect(await refused('recordSamples', 'RecordSamplesInput', given)).toMatchObject({ code: 'INPUT', message: expect.stringContaining('U-01') });
    const { plants } = await technician.ask<any>('{ plants(search: "U-0") { nodes { label } } }');
    expect(plants.nodes).toEqual([{ label: 'U-01' }]);
  });

  it('adds leaves and discs to what stands', async () => {
    const { plants: [plant] } = await bulk(input({ plantPattern: 'V', newPlants: 1, leavesPerPlant: 0, discsPerLeaf: 0 }));
    const { leaves } = await bulk({ id: newId(), plantIds: [plant.id], leavesPerPlant: 2 });
    expect(leaves.map(({ label }: any) => label)).toEqual(['V-L1', 'V-L2']);
    const { discs } = await bulk({ id: newId(), leafIds: [leaves[1].id], discsPerLeaf: 3, discPattern: '-@' });
    expect(discs.map(({ label }: any) => label)).toEqual(['V-L2-A', 'V-L2-B', 'V-L2-C']);
  });

  it.each([
    [{ newPlants: 0 }, 'newPlants'], [{ newPlants: 500, leavesPerPlant: 10 }, 'newPlants'], [{ plantPattern: 'X' }, 'plantPattern'], [{ cropId: null }, 'cropId'], [{ diameterMm: '-1' }, 'diameterMm'],
  ])('refuses %j at %s', async (more, field) => {
    expect(await refused('recordSamples', 'RecordSamplesInput', input({ plantPattern: 'Y-#', ...more }))).toMatchObject({ field });
  });
});

describe('the table of discs', () => {
  const labels = async (args: string, variables: object = {}): Promise<string[]> => {
    const seen: string[] = [];
    let after: string | null = null;
    do {
      const { discs }: any = await technician.ask<any>(`query ($after: String, $filter: DiscFilter) { discs(first: 3, after: $after, filter: $filter, ${args}) { pageInfo { hasNextPage endCursor } nodes { label } } }`, { after, ...variables });
      seen.push(...discs.nodes.map(({ label }: any) => label));
      after = discs.pageInfo.hasNextPage ? discs.pageInfo.endCursor : null;
    } while (after);
    return seen;
  };
  let made: any;

  beforeAll(async () => {
    const fields = { id: newId(), cropId, plantPattern: 'Q-##', newPlants: 2, leavesPerPlant: 2, discsPerLeaf: 2, cultivar: 'Zeta' };
    made = await bulk(fields);
    await bulk({ ...fields, id: newId(), firstPlant: 3, newPlants: 1, cultivar: 'Alpha', treatment: 'watered' });
  });

  it.each(['NEWEST', 'LABEL', 'PLANT', 'CULTIVAR', 'TREATMENT', 'GROWTH_STAGE', 'CUT'])('sorted by %s shows every disc once, whatever the pages, both ways', async (sort) => {
    const up = await labels(`search: "Q-0", sort: ${sort}`);
    const down = await labels(`search: "Q-0", sort: ${sort}, descending: true`);
    expect(new Set(up).size).toBe(12);
    expect(up).toHaveLength(12);
    expect([...down].sort()).toEqual([...up].sort());
    if (sort === 'NEWEST') expect(down).toEqual(up);
    else expect(down).toEqual([...up].reverse());
    if (sort === 'CULTIVAR') expect(up[0]).toMatch(/^Q-03/);
    if (sort === 'LABEL') expect(up).toEqual([...up].sort());
  });

  it('finds by any part of a label or id, and by a whole code as people type it', async () => {
    const disc = made.discs[5];
    expect(await labels('search: "l1-d"')).toContain('Q-01-L1-D1');
    expect(await labels(`search: "${disc.id.slice(9, 30)}"`)).toEqual([disc.label]);
    expect(await labels(`search: "${codeText(codeOf(disc.id)).toLowerCase()}"`)).toEqual([disc.label]);
    expect(await labels('search: "q-"')).toHaveLength(12);
    expect(await labels('search: "100%"')).toEqual([]);
  });

  it('is narrowed by description, amendments counting, and by presence', async () => {
    expect(await labels('sort: LABEL', { filter: { cultivar: 'Alpha' } })).toHaveLength(4);
    await record(technician, 'amendSample', 'AmendSampleInput', { id: newId(), subjectKind: 'PLANT', subjectId: made.plants[0].id, cultivar: 'Alpha', reason: 'Tags were swapped.' });
    expect(await labels('sort: LABEL', { filter: { cultivar: 'Alpha' } })).toHaveLength(8);
    await record(technician, 'recordSampleLoss', 'RecordSampleLossInput', { losses: [{ id: newId(), subjectKind: 'DISC', subjectId: made.discs[0].id }], outcome: 'LOST', noticedAt: '2026-06-03T09:00:00Z', reason: 'Fell behind the bench.' });
    expect(await labels('search: "Q-0"', { filter: { presence: 'LOST' } })).toEqual(['Q-01-L1-D1']);
    expect(await labels('search: "Q-0"', { filter: { presence: 'PRESENT' } })).toHaveLength(11);
    const { sampleWords } = await technician.ask<any>('{ sampleWords { cultivars treatments growthStages } }');
    expect(sampleWords.cultivars).toEqual(expect.arrayContaining(['Alpha', 'Zeta']));
  });

  it('refuses a cursor that is none', async () => {
    const { errors } = await technician.answer('{ discs(after: "nonsense") { nodes { id } } }');
    expect(errors![0]!.extensions).toMatchObject({ code: 'PROBLEM', problem: { field: 'after' } });
  });
});

describe('a description', () => {
  it('is amended with reason; what was recorded stays in sight', async () => {
    const { leaves: [leaf], discs: [disc] } = await bulk({ id: newId(), cropId, plantPattern: 'W', newPlants: 1, leavesPerPlant: 1, discsPerLeaf: 1, growthStage: 'BBCH 61', diameterMm: '8' });
    const amend = (input: object): Promise<any> => record(technician, 'amendSample', 'AmendSampleInput', input, 'sampleAmendment { changes { field was becomes } }');
    const first = { id: newId(), subjectKind: 'LEAF', subjectId: leaf.id, growthStage: 'BBCH 65', reason: 'Misread the key.' };
    expect((await amend(first)).sampleAmendment.changes).toEqual([{ field: 'growthStage', was: 'BBCH 61', becomes: 'BBCH 65' }]);
    expect((await amend(first)).replayed).toBe(true);
    await amend({ id: newId(), subjectKind: 'LEAF', subjectId: leaf.id, growthStage: null, position: 'third from the top', reason: 'Stage not known after all.' });
    await amend({ id: newId(), subjectKind: 'DISC', subjectId: disc.id, diameterMm: '10', leafSide: 'ABAXIAL_UP', reason: 'Other punch.' });
    const seen = await lab.as('AUDITOR').ask<any>('query ($leaf: UUID!, $disc: UUID!) { leaf(id: $leaf) { growthStage position amendments { reason changes { was becomes } } } disc(id: $disc) { diameterMm leafSide } thread(kind: "leaf", id: $leaf, direction: DOWN) { root { remarks { message } } } }', { leaf: leaf.id, disc: disc.id });
    expect(seen.leaf).toMatchObject({ growthStage: null, position: 'third from the top' });
    expect(seen.leaf.amendments.map(({ reason }: any) => reason)).toEqual(['Misread the key.', 'Stage not known after all.']);
    expect(seen.disc).toEqual({ diameterMm: '10', leafSide: 'ABAXIAL_UP' });
    expect(JSON.stringify(seen.thread.root.remarks)).toContain('growthStage was recorded as BBCH 61, amended to BBCH 65: Misread the key.');
    expect(await refused('amendSample', 'AmendSampleInput', { ...first, id: newId(), growthStage: null })).toMatchObject({ message: expect.stringContaining('would change') });
    expect(await refused('amendSample', 'AmendSampleInput', { id: newId(), subjectKind: 'DISC', subjectId: disc.id, cultivar: 'X', reason: 'x' })).toMatchObject({ field: 'cultivar' });
    expect(await refused('amendSample', 'AmendSampleInput', { id: newId(), subjectKind: 'DISC', subjectId: newId(), position: 'tip', reason: 'x' })).toMatchObject({ code: 'NOT_FOUND' });
  });

  it('of a loss is retracted when the disc is found again', async () => {
    const { discs: [disc] } = await bulk({ id: newId(), cropId, plantPattern: 'F', newPlants: 1, leavesPerPlant: 1, discsPerLeaf: 1 });
    const id = newId();
    const input = { losses: [{ id, subjectKind: 'DISC', subjectId: disc.id }], outcome: 'DESTROYED', noticedAt: '2026-06-03T09:00:00Z', reason: 'Burnt.' };
    await record(technician, 'recordSampleLoss', 'RecordSampleLossInput', input);
    expect(await refused('recordSampleLoss', 'RecordSampleLossInput', { ...input, losses: [{ ...input.losses[0], id: newId() }] })).toMatchObject({ code: 'STATE' });
    expect(await refused('recordSampleLoss', 'RecordSampleLossInput', { ...input, reason: ' ' })).toMatchObject({ field: 'reason' });
    await record(technician, 'retract', 'RetractInput', { id: newId(), targetKind: 'sample_loss', targetId: id, reasonCode: 'OTHER', reason: 'It was another disc.' });
    const { disc: seen } = await technician.ask<any>('query ($id: UUID!) { disc(id: $id) { loss { outcome } } }', { id: disc.id });
    expect(seen.loss).toBeNull();
  });
});
