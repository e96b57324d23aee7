import { thermalDrift } from '#libs/switch-device';

describe('thermal drift', () => {
  it('finds the slope of ln P, whatever the unit of power', () => {
    const at = (scale: number) => thermalDrift([-10, 0, 20, 40, 60].map((temperatureC) => ({ temperatureC, tripPowerNw: scale * Math.exp(-0.003 * temperatureC) })));
    expect(at(1).perK).toBeCloseTo(-0.003, 12);
    expect(at(2500).perK).toBeCloseTo(-0.003, 12);
    expect(at(1).standardError).toBeLessThan(1e-12);
  });

  it('states the standard error of a textbook line', () => {
    // y = ln P: 0, 1, 1 at t = 0, 1, 2: slope 1/2, residual sum 1/6, s = √(1/6), Sxx = 2, se = √(1/12).
    const { perK, standardError } = thermalDrift([[0, 0], [1, 1], [2, 1]].map(([temperatureC, lnP]) => ({ temperatureC: temperatureC!, tripPowerNw: Math.exp(lnP!) })));
    expect(perK).toBeCloseTo(0.5, 12);
    expect(standardError).toBeCloseTo(Math.sqrt(1 / 12), 12);
  });

  it('refuses one temperature', () => {
    expect(() => thermalDrift([{ temperatureC: 20, tripPowerNw: 1 }, { temperatureC: 20, tripPowerNw: 2 }, { temperatureC: 20, tripPowerNw: 3 }])).toThrow(expect.objectContaining({ code: 'ONE_TEMPERATURE' }));
  });
});
