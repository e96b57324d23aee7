import { judgeReadback } from '#libs/switch-device';

/** P_th = P0 (V/V0)^k and T = T0 e^(−b (R − R0)), solved without the first order: the unit trips where T = P_th / light. */
const shiftExactly = (k: number, b: number, ratio: number): number => -(k * Math.log(ratio)) / b;

describe('bias read back', () => {
  const stated = { biasV: 40, relativeSlope: 2, thresholdPerLnBias: -2 };

  it('passes within half a per cent, and asks beyond', () => {
    expect(judgeReadback(stated, 40.19)).toMatchObject({ off: false, told: '' });
    expect(judgeReadback(stated, 40.21).off).toBe(true);
    expect(judgeReadback(stated, 39.79).off).toBe(true);
  });

  it('asks within half a per cent too where that moves the trip by more than two points, as it does near pull-in', () => {
    expect(judgeReadback({ ...stated, thresholdPerLnBias: -12 }, 40.19).off).toBe(true);
  });

  it('tells the shift as a power law of the bias and an exponential transmittance give it', () => {
    for (const k of [-1, -4, -9]) expect(judgeReadback({ biasV: 40, relativeSlope: 1.7, thresholdPerLnBias: k }, 41).shiftRwc).toBeCloseTo(shiftExactly(k, 1.7, 41 / 40), 12);
    expect(judgeReadback(stated, 44).told).toBe('The bias read back is 44 V; the certificate says 40 V. The unit would trip about 9.5 points of RWC wetter.');
  });

  it('goes by the share alone where the certificate tells no slopes', () => {
    expect(judgeReadback({ biasV: 40, relativeSlope: null, thresholdPerLnBias: null }, 41)).toEqual({ off: true, shiftRwc: null, told: 'The bias read back is 41 V; the certificate says 40 V.' });
  });
});
