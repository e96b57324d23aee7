import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';
import { unzipSync } from 'fflate';
import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';
import { codeOf, codeText, rollOf, symbolText } from '#libs/label';
import { record } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let technician: Client;
let plants: { id: string; label: string }[];
let discs: { id: string; label: string }[];

beforeAll(async () => {
  // A reader that is not of our making: ZXing, compiled to WebAssembly.
  prepareZXingModule({ overrides: { wasmBinary: readFileSync(createRequire(import.meta.url).resolve('zxing-wasm/reader/zxing_reader.wasm')).buffer as ArrayBuffer }, fireImmediately: true });
  server = await startTestServer();
  lab = await server.openLab('Lab of labels');
  technician = lab.as('TECHNICIAN');
  const cropId = newId();
  await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Fig' });
  ({ plants, discs } = await record(technician, 'recordSamples', 'RecordSamplesInput', { id: newId(), cropId, plantPattern: 'K-##', newPlants: 2, leavesPerPlant: 2, discsPerLeaf: 3, cultivar: 'Bornholm' }, 'plants { id label } discs { id label }'));
});

afterAll(() => server.close());

const refused = async (mutation: string, type: string, input: object): Promise<any> =>
  (await technician.ask<any>(`mutation ($input: ${type}!) { ${mutation}(input: $input) { problem { code field message } } }`, { input }))[mutation].problem;
const place = async (placeKind: string, label: string, insideId: string | null = null, more: object = {}): Promise<string> => {
  const id = newId();
  await record(technician, 'recordPlace', 'RecordPlaceInput', { id, placeKind, label, insideId, ...more });
  return id;
};
const move = (subjectKind: string, subjectIds: string[], placeId: string | null, minute: number): Promise<any> =>
  record(technician, 'recordCustody', 'RecordCustodyInput', { moves: subjectIds.map((subjectId) => ({ id: newId(), subjectKind, subjectId })), placeId, movedAt: `2026-06-03T09:${String(minute).padStart(2, '0')}:00Z` }, 'custodies { id }');

describe('places', () => {
  it('are a tree; what lies in them is told by the newest move that stands', async () => {
    const room = await place('ROOM', 'Weighing room');
    const rack = await place('RACK', 'Rack 1', room);
    const tray = await place('TRAY', 'Tray 7', rack, { positionRows: 2, positionColumns: 3 });
    const { places } = await technician.ask<any>('{ places { label placeKind path } }');
    expect(places.filter(({ placeKind }: any) => placeKind === 'POSITION').map(({ label }: any) => label)).toEqual(['A1', 'A2', 'A3', 'B1', 'B2', 'B3']);
    expect(places.find(({ label }: any) => label === 'B2').path).toEqual(['Weighing room', 'Rack 1', 'Tray 7', 'B2']);
    await move('DISC', [discs[0]!.id, discs[1]!.id], tray, 1);
    const { custodies: [gone] } = await move('DISC', [discs[1]!.id], null, 2);
    // The newest move counts by its own time, not by when it was told.
    await move('DISC', [discs[0]!.id], room, 0);
    const custody = 'custody { place { label } recordedBy { displayName } movedAt }';
    const where = async (): Promise<any[]> => {
      const seen = await technician.ask<any>(`query ($a: UUID!, $b: UUID!, $tray: UUID!) { a: disc(id: $a) { ${custody} } b: disc(id: $b) { ${custody} } place(id: $tray) { sampleCount samples { subject { label } } } }`, { a: discs[0]!.id, b: discs[1]!.id, tray });
      return [seen.a.custody.place?.label ?? null, seen.b.custody.place?.label ?? null, seen.place.sampleCount];
    };
    expect(await where()).toEqual(['Tray 7', null, 1]);
    await record(technician, 'retract', 'RetractInput', { id: newId(), targetKind: 'custody', targetId: gone.id, reasonCode: 'OTHER', reason: 'Scanned by mistake.' });
    expect(await where()).toEqual(['Tray 7', 'Tray 7', 2]);
    const { custodies } = await technician.ask<any>('query ($id: UUID!) { custodies(subjectId: $id) { place { label } amendment { reason } } }', { id: discs[1]!.id });
    expect(custodies).toEqual([{ place: null, amendment: { reason: 'Scanned by mistake.' } }, { place: { label: 'Tray 7' }, amendment: null }]);
    // A tray takes along what lies in it.
    const other = await place('ROOM', 'Drying room');
    await move('PLACE', [tray], other, 5);
    const narrowed = async (placeId: string): Promise<number> => (await technician.ask<any>('query ($filter: DiscFilter) { discs(filter: $filter) { totalCount } }', { filter: { placeId } })).discs.totalCount;
    expect([await narrowed(room), await narrowed(other), await narrowed(tray)]).toEqual([0, 2, 2]);
  });

  it('refuse what cannot be', async () => {
    const room = await place('ROOM', 'R');
    const rack = await place('RACK', 'K', room);
    expect(await refused('recordPlace', 'RecordPlaceInput', { id: newId(), placeKind: 'BUILDING', label: 'B', insideId: room })).toMatchObject({ field: 'insideId' });
    expect(await refused('recordPlace', 'RecordPlaceInput', { id: newId(), placeKind: 'RACK', label: 'k', insideId: room })).toMatchObject({ code: 'INPUT', field: 'label' });
    expect(await refused('recordPlace', 'RecordPlaceInput', { id: newId(), placeKind: 'TRAY', label: 'T', insideId: rack, positionRows: 40, positionColumns: 40 })).toMatchObject({ field: 'positionRows' });
    const item = (subjectKind: string, subjectId: string) => ({ moves: [{ id: newId(), subjectKind, subjectId }], movedAt: '2026-06-03T09:00:00Z' });
    expect(await refused('recordCustody', 'RecordCustodyInput', { ...item('PLACE', room), placeId: rack })).toMatchObject({ field: 'placeId' });
    expect(await refused('recordCustody', 'RecordCustodyInput', { ...item('DISC', newId()), placeId: rack })).toMatchObject({ code: 'NOT_FOUND' });
    expect(await refused('recordCustody', 'RecordCustodyInput', { ...item('DISC', discs[0]!.id), placeId: newId() })).toMatchObject({ code: 'NOT_FOUND', field: 'placeId' });
  });
});

describe('a scan', () => {
  const scan = async (text: string): Promise<any> => (await technician.ask<any>('query ($text: String!) { scan(text: $text) { misread found { kind id label code } } }', { text })).scan;

  it('finds by code in any writing, and by label', async () => {
    const { id, label } = discs[4]!;
    const found = { kind: 'disc', id, label, code: codeOf(id) };
    for (const text of [symbolText(codeOf(id)), codeText(codeOf(id)).toLowerCase(), label, ` ${label}\n`]) expect(await scan(text)).toEqual({ misread: false, found: [found] });
    expect((await scan(codeOf(plants[0]!.id))).found).toMatchObject([{ kind: 'plant', label: 'K-01' }]);
  });

  it('says that a code was misread, and that nothing is called so', async () => {
    const code = codeOf(discs[4]!.id);
    const wrong = code.slice(0, 3) + (code[3] === 'X' ? 'Y' : 'X') + code.slice(4);
    expect(await scan(symbolText(wrong))).toEqual({ misread: true, found: [] });
    expect(await scan('nothing')).toEqual({ misread: false, found: [] });
    const other = await server.openLab('Lab next door');
    expect((await other.as('MANAGER').ask<any>('query ($text: String!) { scan(text: $text) { found { id } misread } }', { text: code })).scan).toEqual({ found: [], misread: false });
  });
});

describe('labels', () => {
  const print = (input: object): Promise<any> => record(technician, 'printLabels', 'PrintLabelsInput', { id: newId(), subjectKind: 'DISC', symbology: 'DATA_MATRIX', stock: rollOf(30, 15), ...input }, 'labelPrint { id count pages reason pdfUrl svgUrl pngUrl }');
  const read = async (png: Uint8Array): Promise<string[]> => (await readBarcodes(png, { formats: ['DataMatrix', 'QRCode', 'Code128'] })).map(({ text }) => text);

  it.each(['DATA_MATRIX', 'QR', 'CODE_128'])('in %s are read back by an independent reader, and lead to their disc', async (symbology) => {
    const some = discs.slice(0, 3);
    const { labelPrint } = await print({ subjectIds: some.map(({ id }) => id), symbology, stock: rollOf(60, 25), reason: 'One sort after another.' });
    expect(labelPrint).toMatchObject({ count: 3, pages: 3 });
    const answer = await technician.request(labelPrint.pngUrl);
    expect(answer.headers.get('content-type')).toBe('application/zip');
    const images = Object.entries(unzipSync(new Uint8Array(await answer.arrayBuffer())));
    expect(images).toHaveLength(3);
    for (const [i, [name, png]] of images.entries()) {
      expect(name).toContain(some[i]!.label);
      expect(await read(png)).toEqual([symbolText(codeOf(some[i]!.id))]);
    }
  });

  it('of a device unit lead to the unit, and name its lot', async () => {
    const engineer = lab.as('FIELD_ENGINEER');
    const [lotId, id] = [newId(), newId()];
    await record(engineer, 'registerDeviceLot', 'RegisterDeviceLotInput', { id: lotId, label: 'Spring' });
    await record(engineer, 'registerDeviceUnit', 'RegisterDeviceUnitInput', { id, lotId, label: 'U-0417' });
    const { labelPrint } = await print({ subjectKind: 'DEVICE_UNIT', subjectIds: [id], symbology: 'QR', stock: rollOf(60, 25) });
    const [text] = await read(new Uint8Array(await (await technician.request(labelPrint.pngUrl)).arrayBuffer()));
    const scan = async (scanned: string): Promise<any> => (await engineer.ask<any>('query ($text: String!) { scan(text: $text) { found { kind id label } } }', { text: scanned })).scan.found;
    expect(await scan(text!)).toEqual([{ kind: 'device_unit', id, label: 'U-0417' }]);
    expect(await scan('U-0417')).toEqual([{ kind: 'device_unit', id, label: 'U-0417' }]);
    expect(await (await technician.request(labelPrint.svgUrl)).text()).toContain('>unit of lot Spring<');
  });

  it('come as one PNG, as SVG pages in mm, and as a PDF of as many pages', async () => {
    const { labelPrint } = await print({ subjectIds: [discs[6]!.id] });
    const png = await technician.request(labelPrint.pngUrl);
    expect(png.headers.get('content-type')).toBe('image/png');
    expect(await read(new Uint8Array(await png.arrayBuffer()))).toEqual([symbolText(codeOf(discs[6]!.id))]);
    const svg = await (await technician.request(labelPrint.svgUrl)).text();
    expect(svg).toContain('width="30mm" height="15mm"');
    expect(svg).toContain(`>${discs[6]!.label}<`);
    expect(svg).toContain(`>${codeText(codeOf(discs[6]!.id))}<`);
    const pdf = Buffer.from(await (await technician.request(labelPrint.pdfUrl)).arrayBuffer());
    expect(pdf.subarray(0, 5).toString()).toBe('%PDF-');
    // 30 by 15 mm in points (ISO 32000-1, 7.7.3.3: MediaBox in units of 1/72 inch).
    expect(pdf.toString('latin1')).toMatch(/\/MediaBox \[0 0 85\.03\d* 42\.51\d*\]/);
    expect((await technician.request(`${labelPrint.svgUrl}?page=2`)).status).toBe(400);
    expect((await technician.request(labelPrint.svgUrl.replace('.svg', '.doc'))).status).toBe(400);
    expect((await server.stranger().request(labelPrint.pdfUrl)).status).toBe(401);
  });

  it('printed again want a reason, are counted, and say so', async () => {
    const id = discs[7]!.id;
    await print({ subjectIds: [id] });
    const again = { id: newId(), subjectKind: 'DISC', symbology: 'QR', stock: rollOf(40, 20), subjectIds: [id, discs[8]!.id] };
    expect(await refused('printLabels', 'PrintLabelsInput', again)).toMatchObject({ field: 'reason', message: expect.stringContaining('1 of these labels was printed before') });
    const { labelPrint } = await print({ ...again, reason: 'Came off in the oven.' });
    const { labelPrintCounts } = await technician.ask<any>('query ($ids: [UUID!]!) { labelPrintCounts(subjectIds: $ids) }', { ids: [id, discs[8]!.id, discs[9]!.id] });
    expect(labelPrintCounts).toEqual([2, 1, 0]);
    expect(await (await technician.request(labelPrint.svgUrl)).text()).toContain('Fig, Bornholm, print 2');
    const { labelPrints } = await technician.ask<any>('query ($id: UUID!) { labelPrints(subjectId: $id) { reason recordedBy { displayName } } }', { id });
    expect(labelPrints.map(({ reason }: any) => reason)).toEqual(['Came off in the oven.', null]);
  });

  it('are refused where they cannot be read or do not fit', async () => {
    const input = { id: newId(), subjectKind: 'DISC', symbology: 'CODE_128', stock: rollOf(25, 10), subjectIds: [discs[10]!.id] };
    expect(await refused('printLabels', 'PrintLabelsInput', input)).toMatchObject({ message: expect.stringContaining('modules of') });
    expect(await refused('printLabels', 'PrintLabelsInput', { ...input, symbology: 'QR', firstPlace: 1 })).toMatchObject({ field: 'firstPlace' });
    expect(await refused('printLabels', 'PrintLabelsInput', { ...input, stock: { ...rollOf(60, 25), columns: 2 } })).toMatchObject({ field: 'stock.pageWidthMm' });
    expect(await refused('printLabels', 'PrintLabelsInput', { ...input, subjectIds: [newId()], stock: rollOf(60, 25) })).toMatchObject({ code: 'NOT_FOUND' });
    expect((await technician.ask<any>('query ($ids: [UUID!]!) { labelPrintCounts(subjectIds: $ids) }', { ids: [discs[10]!.id] })).labelPrintCounts).toEqual([0]);
  });
});
