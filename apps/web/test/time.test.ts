import { lateText, localInput, momentFromInput, momentNow, momentText, relativeText } from '../src/ui/moment.js';

const now = new Date(2026, 5, 3, 12, 0, 0);
const after = (min: number): string => momentNow(new Date(now.getTime() + min * 60_000));

describe('moments in words', () => {
  it.each([
    [0.5, 'now'], [1, 'in 1 min'], [89, 'in 89 min'], [-12, '12 min ago'], [120, 'in 2 h'], [-24 * 60, '24 h ago'], [72 * 60, 'in 3 days'],
  ])('tells %d min from now as "%s"', (min, told) => {
    expect(relativeText(after(min), now.getTime())).toBe(told);
  });

  it('tells by how much something is late', () => {
    expect(lateText(after(-27), now.getTime())).toBe('late by 27 min');
  });

  it('names today by its clock, the days beside it by name, others by date', () => {
    expect(momentText(after(0), now.getTime())).toBe('12:00');
    expect(momentText(after(-24 * 60), now.getTime())).toBe('yesterday 12:00');
    expect(momentText(after(24 * 60), now.getTime())).toBe('tomorrow 12:00');
    expect(momentText(after(-3 * 24 * 60), now.getTime())).toBe('2026-05-31 12:00');
  });

  it('writes RFC 3339 with an offset that leads back to the same instant', () => {
    expect(momentNow(now)).toMatch(/^2026-06-03T12:00:00\.000[+-]\d\d:\d\d$/);
    expect(Date.parse(momentNow(now))).toBe(now.getTime());
  });

  it('reads back what it put into a field, and leaves what it cannot read for the server to name', () => {
    expect(Date.parse(momentFromInput(localInput(now)))).toBe(now.getTime());
    expect(momentFromInput('soon')).toBe('soon');
  });
});
