import { pullInPlace } from '#libs/drawing';

describe('the pull-in of a sweep is drawn', () => {
  test('on the side of its bias', () => {
    expect(pullInPlace([[0, 1e-12], [10, 1e-12], [14.9, 1e-6]], 14.9)).toBe(14.9);
    expect(pullInPlace([[0, 1e-12], [-10, 1e-12], [-14.9, 1e-6]], 14.9)).toBe(-14.9);
  });
});
