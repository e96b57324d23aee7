import {
  Derived, ewtAtRwcCm, ewtCm, fuelMoistureContent, leafDryMatterContent, leafMassPerAreaGm2, leafWaterContent, waterSaturationDeficit,
} from '../src/index.js';

const masses = { freshMassMg: 60, dryMassMg: 12, uFreshMg: 0.138, uDryMg: 0.161 };
const area = { areaCm2: 3.1, uAreaCm2: 0.02 };

/** u by the numerical derivative of the value: an independent road to the analytic budget (JCGM 100:2008, 5.1.3 note 2). */
function uByDifferences<T extends object>(f: (input: T) => Derived, input: T, pairs: Readonly<Record<string, string>>): number {
  const values = input as Readonly<Record<string, number>>;
  const variance = Object.entries(pairs).reduce((sum, [field, uField]) => {
    const h = 1e-6 * values[field]!;
    const up = f({ ...input, [field]: values[field]! + h }).value;
    const down = f({ ...input, [field]: values[field]! - h }).value;
    return sum + (((up - down) / (2 * h)) * values[uField]!) ** 2;
  }, 0);
  return Math.sqrt(variance);
}

describe('relatives of RWC', () => {
  it('computes each from its definition', () => {
    expect(ewtCm({ ...masses, ...area, waterDensityGPerCm3: 1 }).value).toBeCloseTo(0.048 / 3.1, 15);
    expect(ewtCm({ ...masses, ...area, waterDensityGPerCm3: 0.9982 }).value).toBeCloseTo(0.048 / 0.9982 / 3.1, 15);
    expect(leafWaterContent(masses).value).toBeCloseTo(0.8, 15);
    expect(fuelMoistureContent(masses).value).toBeCloseTo(4, 15);
    expect(leafDryMatterContent({ turgidMassMg: 70, dryMassMg: 12, uTurgidMg: 0, uDryMg: 0 }).value).toBeCloseTo(12 / 70, 15);
    expect(leafMassPerAreaGm2({ dryMassMg: 12, uDryMg: 0, areaCm2: 3, uAreaCm2: 0 }).value).toBeCloseTo(40, 12);
    expect(waterSaturationDeficit({ rwc: 0.8, u: 0.01 }).value).toBeCloseTo(0.2, 15);
  });

  it('ties the two moistures together: FMC = LWC/(1 − LWC)', () => {
    const lwc = leafWaterContent(masses).value;
    expect(fuelMoistureContent(masses).value).toBeCloseTo(lwc / (1 - lwc), 12);
  });

  it('ties EWT at an RWC to the masses behind it', () => {
    const turgid = ewtCm({ ...masses, freshMassMg: 70, areaCm2: 3.1, uAreaCm2: 0, waterDensityGPerCm3: 1 }).value;
    const now = ewtCm({ ...masses, areaCm2: 2.9, uAreaCm2: 0, waterDensityGPerCm3: 1 }).value;
    const viaRwc = ewtAtRwcCm({ rwc: 48 / 58, uRwc: 0, ewtTurgidCm: turgid, uEwtTurgidCm: 0, areaRatio: 2.9 / 3.1, uAreaRatio: 0 }).value;
    expect(viaRwc).toBeCloseTo(now, 14);
  });

  it('has the uncertainty its numerical derivative gives', () => {
    const pairs = { freshMassMg: 'uFreshMg', dryMassMg: 'uDryMg' };
    const ewt = { ...masses, ...area, waterDensityGPerCm3: 1 };
    expect(ewtCm(ewt).u).toBeCloseTo(uByDifferences(ewtCm, ewt, { ...pairs, areaCm2: 'uAreaCm2' }), 9);
    expect(leafWaterContent(masses).u).toBeCloseTo(uByDifferences(leafWaterContent, masses, pairs), 9);
    expect(fuelMoistureContent(masses).u).toBeCloseTo(uByDifferences(fuelMoistureContent, masses, pairs), 8);
    const turgid = { turgidMassMg: 70, dryMassMg: 12, uTurgidMg: 0.7, uDryMg: 0.16 };
    expect(leafDryMatterContent(turgid).u).toBeCloseTo(uByDifferences(leafDryMatterContent, turgid, { turgidMassMg: 'uTurgidMg', dryMassMg: 'uDryMg' }), 9);
    const lma = { dryMassMg: 12, uDryMg: 0.16, ...area };
    expect(leafMassPerAreaGm2(lma).u).toBeCloseTo(uByDifferences(leafMassPerAreaGm2, lma, { dryMassMg: 'uDryMg', areaCm2: 'uAreaCm2' }), 7);
    const atRwc = { rwc: 0.8, uRwc: 0.01, ewtTurgidCm: 0.018, uEwtTurgidCm: 0.0003, areaRatio: 0.93, uAreaRatio: 0.01 };
    expect(ewtAtRwcCm(atRwc).u).toBeCloseTo(uByDifferences(ewtAtRwcCm, atRwc, { rwc: 'uRwc', ewtTurgidCm: 'uEwtTurgidCm', areaRatio: 'uAreaRatio' }), 10);
  });

  it('refuses what has no meaning, by name', () => {
    expect(() => leafWaterContent({ ...masses, dryMassMg: 60 })).toThrow(/dryMassMg/);
    expect(() => ewtCm({ ...masses, areaCm2: 0, uAreaCm2: 0, waterDensityGPerCm3: 1 })).toThrow(/areaCm2/);
    expect(() => ewtCm({ ...masses, ...area, waterDensityGPerCm3: -1 })).toThrow(/waterDensityGPerCm3/);
    expect(() => leafDryMatterContent({ turgidMassMg: 10, dryMassMg: 12, uTurgidMg: 0, uDryMg: 0 })).toThrow(/not below turgid/);
    expect(() => leafMassPerAreaGm2({ dryMassMg: -1, uDryMg: 0, ...area })).toThrow(/dryMassMg/);
    expect(() => ewtAtRwcCm({ rwc: NaN, uRwc: 0, ewtTurgidCm: 1, uEwtTurgidCm: 0, areaRatio: 1, uAreaRatio: 0 })).toThrow(/rwc/);
    expect(() => waterSaturationDeficit({ rwc: NaN, u: 0 })).toThrow(/rwc/);
  });
});
