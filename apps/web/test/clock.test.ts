import { offsetFrom } from '../src/offline/clock.js';

describe('the offset of this device\'s clock', () => {
  it('is taken half way of the question, from the sample that was on its way shortest', () => {
    // Server 40 s ahead; the second answer came in 10 ms, the first waited 300 ms on one way only.
    const samples = [{ askedMs: 1000, serverMs: 41_300, answeredMs: 1310 }, { askedMs: 2000, serverMs: 42_005, answeredMs: 2010 }];
    expect(offsetFrom(samples)).toEqual({ offsetMs: 40_000, roundTripMs: 10 });
    expect(offsetFrom([])).toBeNull();
  });
});
