import { record } from '../support/chain.js';
import { storeFile } from '../support/stored-file.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';

let server: TestServer;
let lab: TestLab;
let researcher: Client;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab with a spectrometer');
  researcher = lab.as('RESEARCHER');
});

afterAll(() => server.close());

/** Synthetic shapes of our own. A flat lamp, a sun with a hole at 1400 nm, a leaf that darkens to 1450 nm, a triangular filter. */
const LAMP = 'nm,lamp\n1380,2\n1620,2\n';
const SUN = 'nm;sun\n1380;0,5\n1400;0\n1450;1\n1620;1\n';
const LEAF = '##TITLE= leaf of the test\n##JCAMP-DX= 4.24\n##DATA TYPE= NEAR INFRARED SPECTRUM\n##ORIGIN= test\n##OWNER= test\n##XUNITS= NANOMETERS\n##YUNITS= TRANSMITTANCE\n##FIRSTX= 1380\n##LASTX= 1620\n##NPOINTS= 5\n##DELTAX= 60\n##XFACTOR= 1\n##YFACTOR= 0.001\n##FIRSTY= 0.4\n##MAXY= 0.4\n##MINY= 0.1\n##XYDATA= (X++(Y..Y))\n1380 400 100 200 300 400\n##END=\n';
const FILTER = 'wavelength,filter\n1380,0\n1430,0\n1470,1\n1510,0\n1620,0\n';

const FIELDS = 'id spectrumOf fileKind partName fromNm toNm peakNm waterOverlap wavelengthNm values file { sha256 name }';

async function recorded(text: string, name: string, more: object): Promise<any> {
  const file = await storeFile(researcher, name, Buffer.from(text), 'SPECTRUM');
  return (await record(researcher, 'recordSpectrum', 'RecordSpectrumInput', { id: newId(), label: name, observedAt: '2026-06-03T09:00:00+02:00', storedFileId: file.id, ...more }, `spectrum { ${FIELDS} }`)).spectrum;
}

async function refused(text: string, more: object): Promise<any> {
  const file = await storeFile(researcher, 'x.csv', Buffer.from(text), 'SPECTRUM');
  const { recordSpectrum } = await researcher.ask<any>('mutation ($input: RecordSpectrumInput!) { recordSpectrum(input: $input) { spectrum { id } problem { code field message remedy } } }', {
    input: { id: newId(), label: newId(), observedAt: '2026-06-03T09:00:00Z', storedFileId: file.id, fileKind: 'TABLE', spectrumOf: 'LEAF', ...more },
  });
  return recordSpectrum.problem;
}

let ids: { leafId: string; lampId: string; bandId: string; sunId: string };

it('keeps spectra of JCAMP-DX and of tables with their files', async () => {
  const lamp = await recorded(LAMP, 'lamp.csv', { fileKind: 'TABLE', spectrumOf: 'LAMP' });
  const sun = await recorded(SUN, 'sun.csv', { fileKind: 'TABLE', spectrumOf: 'SUN', decimalComma: true });
  const leaf = await recorded(LEAF, 'leaf.jdx', { fileKind: 'JCAMP_DX', spectrumOf: 'LEAF' });
  const filter = await recorded(FILTER, 'filter.csv', { fileKind: 'TABLE', spectrumOf: 'FILTER' });
  expect(leaf).toMatchObject({ partName: 'leaf of the test', fromNm: 1380, toNm: 1620, values: [0.4, 0.1, 0.2, 0.3, 0.4], waterOverlap: null });
  expect(sun).toMatchObject({ partName: 'sun', values: [0.5, 0, 1, 1] });
  expect(filter.peakNm).toBe(1470);
  expect(filter.waterOverlap).toBeGreaterThan(0.3);
  expect(filter.waterOverlap).toBeLessThan(0.7);
  ids = { leafId: leaf.id, lampId: lamp.id, bandId: filter.id, sunId: sun.id };
  const { thread } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "spectrum", id: $id, direction: DOWN) { nodes { kind label summary } } }', { id: leaf.id });
  expect(thread.nodes.map(({ kind }: any) => kind)).toEqual(['spectrum', 'stored_file']);
  expect(thread.nodes[0].summary).toBe('of a leaf, 1380 to 1620 nm, 5 points, read from leaf of the test');
});

it('weighs the leaf by lamp, sun and band', async () => {
  const ask = async (input: object): Promise<any> => (await researcher.ask<any>(
    'query ($input: BandWeightingInput!) { bandWeighting(input: $input) { problem { code field } weighting { fromNm toNm lamp { transmittance centreNm } sun { transmittance } mismatch waterOverlap drawn { nm lampWeight sunWeight water } } } }', { input },
  )).bandWeighting;
  const { weighting } = await ask(ids);
  // A flat lamp over a triangle of half-width 40 about 1470, the leaf 0.1 at 1440, 0.2 at 1500 and falling to 0.1 from 0.15 at 1430: by hand,
  // the triangle's mean of the leaf's straight pieces. T(1470) = 0.15 on the piece from 1440 to 1500; two slivers beyond are corrected below.
  const T = (nm: number): number => (nm <= 1440 ? 0.4 - (0.3 * (nm - 1380)) / 60 : nm <= 1500 ? 0.1 + (0.1 * (nm - 1440)) / 60 : 0.2 + (0.1 * (nm - 1500)) / 60);
  const A = (nm: number): number => Math.max(0, 1 - Math.abs(nm - 1470) / 40);
  let [top, bottom] = [0, 0];
  for (let i = 0; i < 80_000; i += 1) {
    const nm = 1430 + (i + 0.5) / 1000;
    top += A(nm) * T(nm);
    bottom += A(nm);
  }
  expect(weighting.lamp.transmittance).toBeCloseTo(top / bottom, 8);
  expect(weighting.lamp.centreNm).toBeCloseTo(1470, 8);
  // The sun is weaker below 1450 nm, where the filter sees the leaf least bright or brightest: the factor is what both give.
  expect(weighting.mismatch).toBeCloseTo(weighting.sun.transmittance / weighting.lamp.transmittance, 12);
  expect(weighting.mismatch).not.toBeCloseTo(1, 4);
  const { drawn } = weighting;
  expect(drawn[0].water).toBeNull();
  expect(Math.max(...drawn.map(({ water }: any) => water ?? 0))).toBe(1);
  expect((await ask({ ...ids, sunId: null })).weighting.mismatch).toBeNull();
  expect((await ask({ ...ids, leafId: ids.bandId })).problem).toMatchObject({ code: 'INPUT', field: 'leafId' });
  const other = await server.openLab('Lab beside the spectrometer');
  const { bandWeighting, spectra, spectrum } = await other.as('RESEARCHER').ask<any>('query ($input: BandWeightingInput!, $id: UUID!) { spectra { id } spectrum(id: $id) { id } bandWeighting(input: $input) { problem { code } } }', { input: ids, id: ids.leafId });
  expect([spectra, spectrum, bandWeighting.problem.code]).toEqual([[], null, 'NOT_FOUND']);
});

it('tells what a device sees by a band of its own in the field', async () => {
  const absorber = await recorded('nm,absorptance\n1380,0\n1440,0\n1480,0.9\n1520,0\n1620,0\n', 'absorber.csv', { fileKind: 'TABLE', spectrumOf: 'ABSORBER' });
  const ask = async (input: object): Promise<any> => (await researcher.ask<any>(
    'query ($input: BandWeightingInput!) { bandWeighting(input: $input) { problem { code field } weighting { lamp { transmittance } sun { transmittance centreNm } mismatch bandsOverlap waterOverlap drawn { nm lampWeight sunWeight } } } }', { input },
  )).bandWeighting;
  const { weighting } = await ask({ ...ids, sunId: null, fieldBandId: absorber.id });
  // The same flat lamp; a triangle of half-width 40 about 1480 in place of 1470. The leaf rises by 0.1 over 60 nm about there.
  expect(weighting.sun.centreNm).toBeCloseTo(1480, 8);
  const T = (nm: number): number => (nm <= 1440 ? 0.4 - (0.3 * (nm - 1380)) / 60 : nm <= 1500 ? 0.1 + (0.1 * (nm - 1440)) / 60 : 0.2 + (0.1 * (nm - 1500)) / 60);
  let [top, bottom] = [0, 0];
  for (let i = 0; i < 80_000; i += 1) {
    const nm = 1440 + (i + 0.5) / 1000;
    const a = 1 - Math.abs(nm - 1480) / 40;
    top += a * T(nm);
    bottom += a;
  }
  expect(weighting.sun.transmittance).toBeCloseTo(top / bottom, 8);
  expect(weighting.mismatch).toBeCloseTo(weighting.sun.transmittance / weighting.lamp.transmittance, 12);
  // Two triangles of area 1, half-width 40 and 10 apart: they cross in the middle, 35 from either foot; the common one has base 70.
  expect(weighting.bandsOverlap).toBeCloseTo((35 / 40) ** 2, 8);
  expect(weighting.waterOverlap).toBe(absorber.waterOverlap);
  expect(weighting.drawn.find(({ nm }: any) => nm === 1480)).toMatchObject({ sunWeight: expect.closeTo(1 / 40, 10) });
  expect((await ask({ ...ids, fieldBandId: ids.leafId })).problem).toMatchObject({ code: 'INPUT', field: 'fieldBandId' });
});

it('refuses in words what is no spectrum', async () => {
  expect(await refused('nm,T\n1400,40\n1500,20\n', {})).toMatchObject({ code: 'INPUT', field: 'valueUnit' });
  expect(await refused('nm,T\n1400,0.4\n1500,0.2\n', { part: 2 })).toMatchObject({ field: 'part', message: expect.stringContaining('1 T') });
  expect(await refused(LEAF.replace('##MAXY= 0.4', '##MAXY= 0.9'), { fileKind: 'JCAMP_DX' })).toMatchObject({ code: 'INPUT', field: 'line 15' });
  expect(await refused('nm,T\n1400,-0.4\n1500,-0.2\n', {})).toMatchObject({ field: 'storedFileId' });
  const { recordSpectrum } = await researcher.ask<any>('mutation ($input: RecordSpectrumInput!) { recordSpectrum(input: $input) { problem { code field } } }', {
    input: { id: newId(), label: 'nothing', observedAt: '2026-06-03T09:00:00Z', storedFileId: newId(), fileKind: 'TABLE', spectrumOf: 'LEAF' },
  });
  expect(recordSpectrum.problem).toMatchObject({ code: 'NOT_FOUND', field: 'storedFileId' });
});
