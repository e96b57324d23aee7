import { controlLimits } from '#libs/numeric';

describe('control limits of single values', () => {
  // NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, batch flow rates (figures from memory).
  const flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

  it('are those of the handbook', () => {
    const limits = controlLimits(flow);
    expect(limits.centre).toBeCloseTo(50.81, 10);
    expect(limits.meanMovingRange).toBeCloseTo(1.8778, 4);
    expect(limits.high).toBeCloseTo(55.8041, 2);
    expect(limits.low).toBeCloseTo(45.8159, 2);
    expect(limits.outside).toEqual([]);
  });

  it('name the value that lies outside', () => {
    expect(controlLimits([...flow, 70, 50, 51]).outside).toEqual([10]);
  });

  it('refuse too few', () => {
    expect(() => controlLimits([1, 2])).toThrow(expect.objectContaining({ code: 'TOO_FEW_VALUES' }));
  });
});
