import * as fc from 'fast-check';
import { ALPHANUMERIC, checkCharacter, checks } from '#libs/label';

const DIGITS = '0123456789';

describe('the check character', () => {
  // ISO/IEC 7064, the worked example of MOD 11,10: 0794 has the check digit 5 (quoted so in several open implementations).
  it('is 5 for 0794 by MOD 11,10', () => expect(checkCharacter('0794', DIGITS)).toBe('5'));

  // Global Release Identifier standard 2.1 (IFPI), which uses MOD 37,36: A1-2425G-ABC1234002-M.
  it('is M for A12425GABC1234002 by MOD 37,36', () => {
    expect(checkCharacter('A12425GABC1234002')).toBe('M');
    expect(checks('A12425GABC1234002M')).toBe(true);
  });

  const code = fc.array(fc.constantFrom(...ALPHANUMERIC), { minLength: 2, maxLength: 14 }).map((letters) => letters.join(''));

  // The standard promises that every single substitution is found.
  it('finds every single wrong character', () => {
    fc.assert(fc.property(code, fc.nat(), fc.constantFrom(...ALPHANUMERIC), (text, at, other) => {
      const whole = text + checkCharacter(text);
      const place = at % whole.length;
      const wrong = whole.slice(0, place) + other + whole.slice(place + 1);
      return wrong === whole ? checks(wrong) : !checks(wrong);
    }), { numRuns: 500, seed: 7064 });
  });

  it('refuses what the alphabet does not have', () => {
    expect(() => checkCharacter('A-1')).toThrow(expect.objectContaining({ code: 'CHARACTER' }));
    expect(() => checkCharacter('')).toThrow(expect.objectContaining({ code: 'NO_TEXT' }));
    expect(checks('a1')).toBe(false);
  });
});
