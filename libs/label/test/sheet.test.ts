import { pageSvg, pagesOf, requireStock, rollOf, type LabelContent, type LabelStock, type SymbolDrawing } from '#libs/label';

/** Two modules dark above one: enough to see where things lie. */
const symbol: SymbolDrawing = { widthModules: 2, heightModules: 2, quietModules: 1, linear: false, rows: [[[0, 2]], [[1, 1]]] };
const label = (name: string): LabelContent => ({ symbol, lines: [name, '4K7X9-Q2M83-C'] });
const sheet: LabelStock = {
  pageWidthMm: 210, pageHeightMm: 297, columns: 5, rows: 13, marginLeftMm: 4.7, marginTopMm: 10.7, pitchXMm: 40.6, pitchYMm: 21.2, labelWidthMm: 38.1, labelHeightMm: 21.2,
};

describe('a page', () => {
  it('has its size in mm and each label at its place', () => {
    const svg = pageSvg([label('A'), label('B'), label('C')], sheet, 0, 4);
    expect(svg).toContain('width="210mm" height="297mm" viewBox="0 0 210 297"');
    const [first, second] = [...svg.matchAll(/<path d="M([\d.]+) ([\d.]+)/g)].map(([, x, y]) => [Number(x), Number(y)]);
    // The first lies on the fifth place: 4.7 + 4 × 40.6 mm from the left; the second begins the next row.
    expect(first![0]).toBeGreaterThan(4.7 + 4 * 40.6);
    expect(second![0]).toBeLessThan(20);
    expect(second![1]! - first![1]!).toBeCloseTo(21.2, 6);
    expect(svg).toContain('>A<');
  });

  it('writes what is typed as text, not as markup', () => {
    expect(pageSvg([label('<b>&"')], rollOf(50, 25), 0)).toContain('&lt;b&gt;&amp;&quot;');
  });

  it('count and refusals', () => {
    expect([pagesOf(65, sheet), pagesOf(66, sheet), pagesOf(65, sheet, 1)]).toEqual([1, 2, 2]);
    expect(() => requireStock({ ...sheet, columns: 6 })).toThrow(expect.objectContaining({ code: 'OFF_PAGE' }));
    expect(() => requireStock({ ...sheet, pitchYMm: 12 })).toThrow(expect.objectContaining({ code: 'OFF_PAGE' }));
    expect(() => requireStock({ ...sheet, labelWidthMm: 0 })).toThrow(expect.objectContaining({ code: 'SIZE' }));
    const wide: SymbolDrawing = { ...symbol, widthModules: 120, heightModules: 1, linear: true, rows: [[[0, 120]]] };
    expect(() => pageSvg([{ symbol: wide, lines: [] }], rollOf(25, 10), 0)).toThrow(expect.objectContaining({ code: 'TOO_SMALL' }));
  });
});
