import { codeOf, codeText, symbolText } from '#libs/label';
import { discScanned, looksLikeNumber, wasMisread } from '../src/features/bench/parts/scan.js';

const discs = [{ id: '0190', label: 'G1-L1-A' }, { id: '0191', label: '12' }];

it('knows a disc by its label in either case, or by its id', () => {
  expect(discScanned(discs, ' g1-l1-a ')?.id).toBe('0190');
  expect(discScanned(discs, '0191')?.label).toBe('12');
  expect(discScanned(discs, 'G1-L1-B')).toBeNull();
});

it('knows a disc by the code of its label, as a symbol carries it or a hand types it, and tells a code that was misread', () => {
  const [first] = [{ id: '0197cafe-0000-7000-8000-000000000001', label: 'W-1' }];
  const code = codeOf(first.id);
  expect(discScanned([...discs, first], symbolText(code))?.label).toBe('W-1');
  expect(discScanned([...discs, first], codeText(code).toLowerCase())?.label).toBe('W-1');
  const wrong = (code.startsWith('0') ? '1' : '0') + code.slice(1);
  expect([discScanned([first], wrong), wasMisread(wrong), wasMisread('W-1')]).toEqual([null, true, false]);
});

it.each([['60.32', true], ['60,32', true], ['+60.3', true], ['1 060.3', true], ['6e1', true], ['G1-L1', false], ['60.32 mg', false], ['', false], ['-', false]])('%s can be a number: %s', (text, can) => {
  expect(looksLikeNumber(text)).toBe(can);
});
