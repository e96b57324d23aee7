import { calibrationDrawing, operatingDrawing } from '#libs/drawing';
import { spansOf } from '../../apps/api/src/platform/paper/letters.js';
import { beside, code, codeSvg, drawingSvg, facts, figure, heading, paragraph, rawBlock, renderPaper, renderSheets, table, type Part } from '../../apps/api/src/platform/paper/index.js';

const madeAt = new Date('2026-06-03T09:05:00Z');
const operating = operatingDrawing({ points: [{ rwc: 0.7, pTrip: 0.99 }, { rwc: 0.8, pTrip: 0.5 }, { rwc: 0.9, pTrip: 0.01 }], targetRwc: 0.8, interval: [0.74, 0.86] });

const paper = (parts: readonly Part[]) => renderPaper({ sort: 'Evidence thread', title: 'Decision for zone Ä-3', lab: 'Lab', reference: 'decision 1', madeAt, parts });
const pagesOf = (bytes: Uint8Array): number => Buffer.from(bytes).toString('latin1').match(/\/Type \/Page\b(?!s)/g)?.length ?? 0;

const everyPart = (mass = '60.32 mg'): Part[] => [
  heading('What it is'),
  facts([{ name: 'Mass', value: mass }, null, false, { name: 'Hash', value: 'ab'.repeat(32), face: 'Raw' }]),
  figure(operating, { label: 'Operating characteristic', caption: 'Between the dashed lines.' }),
  table([{ head: 'Line', cell: (row: string) => row, face: 'Raw' }], Array.from({ length: 80 }, (_, i) => `S S\t${i} mg\r`)),
  rawBlock('ledger.example/lab\n12\nAAAA=\n\n— key BBBB\n'),
  beside({ part: code('TL-1'), width: 90 }, { part: code('TL-1', { sort: 'datamatrix' }) }, { part: paragraph('Анна → 中') }),
];

describe('a paper', () => {
  it('is the same to the byte when it is made again, and another when a digit differs', async () => {
    const first = Buffer.from(await paper(everyPart()));
    expect(Buffer.from(await paper(everyPart())).equals(first)).toBe(true);
    expect(Buffer.from(await paper(everyPart('60.33 mg'))).equals(first)).toBe(false);
  });

  it('has its pages, with every face embedded and nothing to run', async () => {
    const bytes = await paper(everyPart());
    const text = Buffer.from(bytes).toString('latin1');
    expect(text.startsWith('%PDF-1.7')).toBe(true);
    expect(pagesOf(bytes)).toBe(3);
    expect(text.match(/\/Type \/FontDescriptor/g)?.length).toBe(text.match(/\/FontFile[23]? /g)?.length);
    expect(text).not.toMatch(/\/(JavaScript|JS|Launch|OpenAction) /);
    expect(bytes.length).toBeLessThan(150_000);
  });

  it('gives each label a sheet of its own', async () => {
    const sheets = ['D1', 'D2', 'D3'].map((label) => beside({ part: code(label, { sort: 'datamatrix', sizeMm: 16 }), width: 60 }, { part: paragraph(label) }));
    const bytes = await renderSheets({ title: 'Labels', madeAt, widthMm: 50, heightMm: 25, marginMm: 2, sheets });
    expect(pagesOf(bytes)).toBe(3);
  });
});

describe('letters', () => {
  it('come from the face that has them', () => {
    expect(spansOf('60 µL ± 2 °C', 'Text')).toEqual([{ text: '60 µL ± 2 °C', face: 'Text' }]);
    expect(spansOf('Анна → Δ', 'Text')).toEqual([{ text: 'Анна ', face: 'Text' }, { text: '→ ', face: 'Other' }, { text: 'Δ', face: 'Text' }]);
    expect(spansOf('יעל', 'Text')).toEqual([{ text: 'יעל', face: 'Other' }]);
  });

  it('that no face has are told by number, and control characters by name', () => {
    expect(spansOf('中 a', 'Text')).toEqual([{ text: '[U+4E2D] a', face: 'Text' }]);
    expect(spansOf('S\t1\r\u0001', 'Raw')).toEqual([{ text: 'S[TAB]1[CR][U+0001]', face: 'Raw' }]);
  });
});

describe('a drawing on paper', () => {
  it('leans on nothing around it, and keeps its names readable over lines', () => {
    const curve = [0.7, 0.8, 0.9].map((rwc) => ({ rwc, transmittance: 1 - rwc, meanLow: 0.9 - rwc, meanHigh: 1.1 - rwc, newLeafLow: 0.8 - rwc, newLeafHigh: 1.2 - rwc }));
    const svg = drawingSvg(calibrationDrawing({ points: [{ leaf: '中', rwc: 0.8, uRwc: 0.01, transmittance: 0.2, uTransmittance: 0.01, used: true }], curve }), 'Calibration');
    expect(svg).not.toMatch(/currentColor|<style/);
    expect(svg).toContain('one new leaf, 95 %');
    // Twice: the halo, then the letters.
    expect(svg.match(/mean line, 95 %/g)).toHaveLength(2);
    expect(svg).toContain('<tspan font-family="Other">↑');
  });
});

describe('a square code', () => {
  it('holds its text and differs with it', () => {
    expect(codeSvg('TL-1')).toMatch(/^<svg/);
    expect(codeSvg('TL-1')).not.toBe(codeSvg('TL-2'));
    expect(() => codeSvg('x'.repeat(8_000))).toThrow();
  });
});
