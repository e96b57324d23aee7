import { combineContributions, sharedCovariance } from '../src/index.js';

describe('combineContributions', () => {
  // JCGM 100:2008, H.1.3-H.1.5 (end gauge, first order): contributions 25, 9.7, 2.9 and 16.6 nm; combined 32 nm.
  it('combines the end gauge of GUM H.1', () => {
    const budget = combineContributions([
      { source: 'standard', sensitivity: 1, u: 25 },
      { source: 'difference', sensitivity: 1, u: 9.7 },
      { source: 'expansion difference', sensitivity: 1, u: 2.9 },
      { source: 'temperature difference', sensitivity: 1, u: 16.6 },
    ]);
    expect(Math.round(budget.u)).toBe(32);
    expect(budget.lines.reduce((sum, line) => sum + line.share, 0)).toBeCloseTo(1, 12);
    expect(budget.lines[0]!.share).toBeCloseTo(625 / 1003.06, 4);
  });

  it('adds the lines of one source before squaring', () => {
    const zero = (sensitivity: number) => ({ source: 'zero', sensitivity, u: 2 });
    expect(combineContributions([zero(1), zero(-1)]).u).toBe(0);
    expect(combineContributions([zero(1), zero(1)]).u).toBe(4);
  });

  it('has no shares where nothing is uncertain', () => {
    expect(combineContributions([{ source: 'a', sensitivity: 1, u: 0 }])).toMatchObject({ u: 0, lines: [{ share: 0 }] });
  });

  it('refuses a negative or missing uncertainty by name', () => {
    expect(() => combineContributions([{ source: 'lamp', sensitivity: 1, u: -1 }])).toThrow(/u of lamp/);
    expect(() => combineContributions([{ source: 'lamp', sensitivity: NaN, u: 1 }])).toThrow(/sensitivity of lamp/);
  });
});

describe('sharedCovariance', () => {
  it('has the variances on its diagonal and only shared sources off it', () => {
    const a = [{ source: 'T', sensitivity: 2, u: 0.5 }, { source: 'F1', sensitivity: 1, u: 3 }];
    const b = [{ source: 'T', sensitivity: -1, u: 0.5 }, { source: 'F2', sensitivity: 1, u: 1 }];
    expect(sharedCovariance([a, b])).toEqual([[10, -0.5], [-0.5, 1.25]]);
  });

  it('adds up the lines of one source before squaring', () => {
    expect(sharedCovariance([[{ source: 'zero', sensitivity: 1, u: 2 }, { source: 'zero', sensitivity: -1, u: 2 }]])).toEqual([[0]]);
  });

  it('refuses one name for two uncertainties', () => {
    expect(() => sharedCovariance([[{ source: 'T', sensitivity: 1, u: 1 }], [{ source: 'T', sensitivity: 1, u: 2 }]])).toThrow(/T: /);
  });
});
