import fc from 'fast-check';
import { newLeafHalfWidth } from '../src/features/calibrations/parts/half-width.js';
import { readTwoColumns } from '../src/features/devices/parts/two-columns.js';

describe('two pasted columns', () => {
  it.each([
    ['0.25\t2e-12', [0.25, 2e-12]],
    ['0,25\t2,5e-12', [0.25, 2.5e-12]],
    ['0.25;2e-12', [0.25, 2e-12]],
    ['0.25, 2e-12', null],
    ['0.25,2e-12', [0.25, 2e-12]],
    ['-4 -1E-7', [-4, -1e-7]],
    ['1,2,3', null],
    ['4 V 1e-7 A', null],
    ['4', null],
    ['4 1e999', null],
  ] as const)('reads %j', (line, pair) => {
    const { pairs, wrong } = readTwoColumns(line);
    expect(pairs).toEqual(pair ? [pair] : []);
    expect(wrong).toEqual(pair ? [] : [{ line: 1, text: line }]);
  });

  it('skips a heading and empty lines, and tells the number of any other line it cannot read', () => {
    expect(readTwoColumns('\nbias V\tcurrent A\n1\t2e-12\r\n\nlamp off\n2\t3e-12\n')).toEqual({ pairs: [[1, 2e-12], [2, 3e-12]], wrong: [{ line: 5, text: 'lamp off' }] });
  });

  it('gives back every pair that was written', () => {
    const number = fc.double({ noNaN: true, noDefaultInfinity: true });
    fc.assert(fc.property(fc.array(fc.tuple(number, number)), (pairs) => {
      const plain = pairs.map(([a, b]) => [a + 0, b + 0] as const);
      expect(readTwoColumns(plain.map((pair) => pair.join('\t')).join('\n'))).toEqual({ pairs: plain, wrong: [] });
    }));
  });
});

describe('the half-width for one new leaf', () => {
  it('is the distance in RWC by which the band is moved, for a log-linear line', () => {
    // A leaf whose line lies higher by a factor e^(c·d) is the mean line moved by d in RWC: the band of ± d has half-width d to first order.
    const [a, c, d] = [-0.9, -1, 0.05];
    const transmittance = (rwc: number) => Math.exp(a + c * rwc);
    const curve = Array.from({ length: 41 }, (_, i) => 0.6 + i / 100).map((rwc) => ({ rwc, transmittance: transmittance(rwc), newLeafLow: transmittance(rwc + d), newLeafHigh: transmittance(rwc - d) }));
    expect(newLeafHalfWidth(curve)).toBeCloseTo(d, 4);
  });

  it('is not known without a band, or where the line is flat', () => {
    expect(newLeafHalfWidth([])).toBeNull();
    const flat = [0.6, 0.7, 0.8].map((rwc) => ({ rwc, transmittance: 0.2, newLeafLow: 0.1, newLeafHigh: 0.3 }));
    expect(newLeafHalfWidth(flat)).toBeNull();
    expect(newLeafHalfWidth(flat.map((point) => ({ ...point, newLeafLow: null })))).toBeNull();
  });
});
