import { discScanned, looksLikeNumber } from '../src/features/bench/parts/scan.js';

const discs = [{ id: '0190', label: 'G1-L1-A' }, { id: '0191', label: '12' }];

it('knows a disc by its label in either case, or by its id', () => {
  expect(discScanned(discs, ' g1-l1-a ')?.id).toBe('0190');
  expect(discScanned(discs, '0191')?.label).toBe('12');
  expect(discScanned(discs, 'G1-L1-B')).toBeNull();
});

it.each([['60.32', true], ['60,32', true], ['+60.3', true], ['1 060.3', true], ['6e1', true], ['G1-L1', false], ['60.32 mg', false], ['', false], ['-', false]])('%s can be a number: %s', (text, can) => {
  expect(looksLikeNumber(text)).toBe(can);
});
