import fc from 'fast-check';
import { InputError } from '#libs/quantity';
import { readSpectrumTable, SpectrumTableOptions } from '../src/index.js';

const nm: SpectrumTableOptions = { wavelengthUnit: 'nm', valueUnit: '1' };

const refusal = (text: string, options: Partial<SpectrumTableOptions> = {}): string => {
  try {
    readSpectrumTable(text, { ...nm, ...options });
  } catch (error) {
    if (error instanceof InputError) return `${error.code} ${error.field}`;
    throw error;
  }
  return 'READ';
};

describe('readSpectrumTable', () => {
  it('reads several spectra with preamble, headings, comments and quotes', () => {
    const text = 'spectrometer export\ndate,2026-05-04,x,y\n# note\nwavelength,"turgid",dry\n1400,0.15,0.30\n\n1410,0.16,0.31\n';
    expect(readSpectrumTable(text, nm)).toEqual({
      preamble: ['spectrometer export', 'date,2026-05-04,x,y'], reversed: false,
      spectra: [
        { name: 'turgid', spectrum: { wavelengthNm: [1400, 1410], values: [0.15, 0.16] } },
        { name: 'dry', spectrum: { wavelengthNm: [1400, 1410], values: [0.3, 0.31] } },
      ],
    });
  });

  it('finds tab before semicolon before comma, and names columns without heading', () => {
    expect(readSpectrumTable('1400\t0.1\n1410\t0.2', nm).spectra[0]!.name).toBe('column 2');
    expect(readSpectrumTable('1400;0,1\n1410;0,2', { ...nm, decimalComma: true }).spectra[0]!.spectrum.values).toEqual([0.1, 0.2]);
    expect(readSpectrumTable('\ufeff1400,0.1\r\n1410,0.2\r\n', nm).spectra).toHaveLength(1);
  });

  it('turns units and a falling order round, exactly, and says so', () => {
    const table = readSpectrumTable('1.5,30\n1.4,12.3', { wavelengthUnit: 'um', valueUnit: '%' });
    expect(table).toMatchObject({ reversed: true, spectra: [{ spectrum: { wavelengthNm: [1400, 1500], values: [0.123, 0.3] } }] });
    expect(12.3 / 100).not.toBe(0.123);
  });

  it.each<[string, string, Partial<SpectrumTableOptions>, string]>([
    ['nothing', '', {}, 'NO_DATA text'],
    ['words only', 'a,b\nc,d', {}, 'NO_DATA text'],
    ['one row', '1400,1', {}, 'NO_DATA line 1'],
    ['a gap', 'nm,T\n1400,1\n1410,\n1420,3', {}, 'NOT_A_NUMBER line 3, column 2'],
    ['a short row', '1400,1\n1410', {}, 'ROW_LENGTH line 2'],
    ['a long row', '1400,1\n1410,2,3', {}, 'ROW_LENGTH line 2'],
    ['a wavelength twice', '1400,1\n1410,2\n1410,2', {}, 'UNSORTED_WAVELENGTHS line 3'],
    ['a turn', '1400,1\n1410,2\n1405,2', {}, 'UNSORTED_WAVELENGTHS line 3'],
    ['a word among numbers', '1400,1\n1410,saturated', {}, 'NOT_A_NUMBER line 2, column 2'],
    ['the wrong decimal mark', '1400;0,1\n1410;0,2', {}, 'WRONG_DECIMAL_MARK line 1, column 2'],
    ['a comma for two jobs', '1400,0\n1410,1', { decimalComma: true }, 'WRONG_DELIMITER delimiter'],
  ])('refuses %s', (_name, text, options, expected) => {
    expect(refusal(text, options)).toBe(expected);
  });

  it('reads back what was written, with point or comma', () => {
    const row = fc.tuple(fc.integer({ min: 1, max: 50 }), fc.double({ min: -10, max: 10, noNaN: true }).filter((x) => x === 0 || Math.abs(x) > 1e-15));
    fc.assert(fc.property(fc.array(row, { minLength: 2, maxLength: 30 }), fc.boolean(), (rows, decimalComma) => {
      let at = 1000;
      const points = rows.map(([step, value]) => [(at += step), value === 0 ? 0 : value] as const);
      const text = points.map(([x, value]) => `${x};${decimalComma ? String(value).replace('.', ',') : value}`).join('\n');
      const { spectrum } = readSpectrumTable(text, { ...nm, decimalComma }).spectra[0]!;
      expect(spectrum).toEqual({ wavelengthNm: points.map(([x]) => x), values: points.map(([, value]) => value) });
    }));
  });
});
