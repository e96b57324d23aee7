import * as fc from 'fast-check';
import { createHash } from 'node:crypto';
import { checks, codeKey, codeOf, codeText, numbered, readScan, symbolText } from '#libs/label';

const ID = '01900000-0000-7000-8000-000000000001';

describe('the code of a record', () => {
  it('is the first 48 bits of the hash of its id, with a check character', () => {
    const hash = createHash('sha256').update(Buffer.from(ID.replaceAll('-', ''), 'hex')).digest('hex');
    expect(codeKey(ID)).toBe(hash.slice(0, 12));
    expect(codeOf(ID)).toMatch(/^[0-9A-HJKMNP-TV-Z]{10}[0-9A-Z]$/);
    expect(checks(codeOf(ID))).toBe(true);
    expect(codeText('4K7X9Q2M83C')).toBe('4K7X9-Q2M83-C');
  });

  it('is read back from whatever a scanner or a hand makes of it', () => {
    fc.assert(fc.property(fc.uuid(), (id) => {
      const code = codeOf(id);
      for (const text of [code, symbolText(code), codeText(code), ` ${codeText(code).toLowerCase()} `, `tl ${code.slice(0, 5)} ${code.slice(5)}`]) {
        expect(readScan(text)).toMatchObject({ key: codeKey(id), misread: false });
      }
    }), { numRuns: 200, seed: 1 });
  });

  it('that was misread is told from a label', () => {
    const code = codeOf(ID);
    const wrong = (code[0] === '7' ? '8' : '7') + code.slice(1);
    expect(readScan(wrong)).toMatchObject({ key: null, misread: true, label: wrong });
    expect(readScan(symbolText(wrong))).toMatchObject({ key: null, misread: true });
    for (const label of ['F1-L1-D3', 'Dörte 7', '', 'T-01-L2-D03-extra']) expect(readScan(label)).toEqual({ label, key: null, misread: false });
  });
});

describe('numbering', () => {
  it('counts in digits or letters where the pattern says', () => {
    expect(numbered('T-##', 9, 3)).toEqual(['T-09', 'T-10', 'T-11']);
    expect(numbered('-L#', 1, 2)).toEqual(['-L1', '-L2']);
    expect(numbered('@', 25, 4)).toEqual(['Y', 'Z', 'AA', 'AB']);
    expect(numbered('Mother', 1, 1)).toEqual(['Mother']);
    expect(numbered('Mother', 1, 0)).toEqual([]);
  });

  it.each([['Mother', 1, 2, 'NO_PLACE'], ['#-#', 1, 2, 'TWO_PLACES'], ['#', 0, 2, 'COUNT'], ['#', 1, -1, 'COUNT'], ['#', 1, 1.5, 'COUNT']])(
    'refuses "%s" from %d, %d times', (pattern, from, count, code) => {
      expect(() => numbered(pattern, from, count)).toThrow(expect.objectContaining({ code }));
    });
});
