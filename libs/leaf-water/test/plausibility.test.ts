import { DiscEvidence, HOUSE_LIMITS, PLAUSIBILITY_RULES, plausibilityFlags, robustSpread } from '../src/index.js';

const HOUR = 3_600_000;
const good: DiscEvidence = {
  freshMassMg: 60, turgidMassMg: 70, dryMassMg: 12, resolutionMg: 0.1, minimumMassMg: 8.2, cutAtMs: 0, freshWeighedAtMs: 40_000,
  dryingMassesMg: [70, 66, 61.2, 55], ovenMassesMg: [12.2, 12.1, 12.1], taresMg: [0, 0.1, 0],
  hydration: [{ massMg: 69.6, atMs: 0 }, { massMg: 70, atMs: HOUR }],
  cropTurgidDryRatios: [5.6, 5.7, 5.8, 5.9, 5.7, 5.8, 6.0, 5.75],
  blottedAtMs: HOUR, turgidWeighedAtMs: HOUR + 30_000, hydratedForMin: 200, hydrationWindowMin: [180, 240], stable: true,
  areaCm2: 3.1, cropTurgidMassPerAreaMgCm2: [21.5, 22, 22.4, 22.9, 23.1, 22.6, 22.2, 22.5],
};
const codes = (change: DiscEvidence) => plausibilityFlags({ ...good, ...change }).map((flag) => `${flag.severity} ${flag.code}`);

describe('plausibility', () => {
  it('is silent on a good disc and on one of which nothing is known', () => {
    expect(codes({})).toEqual([]);
    expect(plausibilityFlags({})).toEqual([]);
  });

  it.each<[string, DiscEvidence, string]>([
    ['F > T while D is unknown', { freshMassMg: 70.1, dryMassMg: undefined }, 'ask FRESH_ABOVE_TURGID'],
    ['RWC a little above 1', { freshMassMg: 71 }, 'warn RWC_ABOVE_ONE'],
    ['RWC far above 1', { freshMassMg: 72 }, 'ask RWC_FAR_ABOVE_ONE'],
    ['T/D far from the crop', { turgidMassMg: 90, areaCm2: 4 }, 'warn TURGID_DRY_RATIO_OUTLYING'],
    ['rising on the bench', { dryingMassesMg: [70, 66, 66.3] }, 'ask MASS_RISING'],
    ['rising after the oven', { ovenMassesMg: [12.1, 12.4] }, 'ask MASS_RISING'],
    ['the same frame twice', { dryingMassesMg: [70, 66, 66, 60] }, 'warn MASS_REPEATED'],
    ['falling three times as fast as before', { drying: [{ massMg: 70, atMs: 0 }, { massMg: 66, atMs: 5 }, { massMg: 53, atMs: 10 }] }, 'ask MASS_FELL_FAR'],
    ['the line of the disc before', { lines: ['+ 61.20 mg S', '+ 61.20 mg S'] }, 'ask LINE_REPEATED'],
    ['below the minimum mass', { minimumMassMg: 82 }, 'warn BELOW_MINIMUM_MASS'],
    ['weighed late', { freshWeighedAtMs: 61_000 }, 'warn LATE_AFTER_CUT'],
    ['still taking up water', { hydration: [{ massMg: 69.2, atMs: 0 }, { massMg: 70, atMs: HOUR }] }, 'ask STILL_TAKING_UP_WATER'],
    ['not settled', { stable: false }, 'ask READING_UNSTABLE'],
    ['weighed late after blotting', { turgidWeighedAtMs: HOUR + 61_000 }, 'warn LATE_AFTER_BLOTTING'],
    ['too short in water', { hydratedForMin: 179 }, 'warn HYDRATION_OUT_OF_WINDOW'],
    ['too long in water', { hydratedForMin: 241 }, 'warn HYDRATION_OUT_OF_WINDOW'],
    ['another punch', { areaCm2: 1.5 }, 'warn MASS_PER_AREA_OUTLYING'],
    ['another vessel', { taresMg: [0, 0.1, 0.4] }, 'ask TARE_CHANGED'],
  ])('flags: %s', (_name, change, expected) => {
    expect(codes(change)).toEqual([expected]);
  });

  it('flags a dry disc that is heavier, whatever else it is', () => {
    expect(codes({ freshMassMg: 11.9 })).toEqual(['ask RWC_BELOW_ZERO', 'ask DRY_NOT_BELOW_FRESH']);
    expect(codes({ dryMassMg: 70, cropTurgidDryRatios: [] })).toEqual(['ask DRY_NOT_BELOW_FRESH', 'ask DRY_NOT_BELOW_TURGID']);
  });

  it('stands at its limits, not before', () => {
    expect(codes({ freshMassMg: 70 })).toEqual([]);
    expect(codes({ freshMassMg: 12 + 58 * 1.0299 })).toEqual(['warn RWC_ABOVE_ONE']);
    expect(codes({ freshWeighedAtMs: 60_000 })).toEqual([]);
    expect(codes({ taresMg: [0, 0.2] })).toEqual([]);
    expect(codes({ turgidWeighedAtMs: HOUR + 60_000 })).toEqual([]);
    expect(codes({ hydratedForMin: 180 })).toEqual([]);
    expect(codes({ hydratedForMin: 240 })).toEqual([]);
    expect(codes({ dryingMassesMg: [70, 66, 66.2] })).toEqual([]);
    expect(codes({ hydration: [{ massMg: 100, atMs: 0 }, { massMg: 100.9, atMs: HOUR }] })).toEqual([]);
  });

  it('judges uptake over the last hour, and per hour over a longer gap', () => {
    const h = (hours: number, massMg: number) => ({ massMg, atMs: hours * HOUR });
    expect(codes({ hydration: [h(0, 60), h(2, 70), h(3, 70.2)] })).toEqual([]);
    expect(codes({ hydration: [h(0, 68), h(3, 70)] })).toEqual([]);
    expect(codes({ hydration: [h(0, 65), h(3, 70)] })).toEqual(['ask STILL_TAKING_UP_WATER']);
    // Over less than an hour a gain is not blown up to an hour's: it counts as seen.
    expect(codes({ hydration: [h(0, 69), h(0.5, 70)] })).toEqual(['ask STILL_TAKING_UP_WATER']);
    expect(codes({ hydration: [h(0, 69.5), h(0.5, 70)] })).toEqual([]);
  });

  it('judges a fall by the pace before it, over whatever time lay between', () => {
    const at = (massMg: number, atMs: number) => ({ massMg, atMs });
    // 4 mg in 5 minutes lets up to 12 mg pass in the next 5 (and the display its four steps), twice as much in 10.
    expect(codes({ drying: [at(70, 0), at(66, 5), at(53.7, 10)] })).toEqual([]);
    expect(codes({ drying: [at(70, 0), at(66, 5), at(45, 15)] })).toEqual([]);
    expect(codes({ drying: [at(70, 0), at(66, 5), at(40, 15)] })).toEqual(['ask MASS_FELL_FAR']);
    // Where nothing was lost before, 2 % of the mass may go.
    expect(codes({ drying: [at(70, 0), at(70, 5), at(68.3, 10)] })).toEqual([]);
    expect(codes({ drying: [at(70, 0), at(70, 5), at(68.1, 10)] })).toEqual(['ask MASS_FELL_FAR']);
    // After a rise there is no pace to go by.
    expect(codes({ drying: [at(70, 0), at(70.2, 5), at(60, 10)] })).toEqual([]);
    expect(codes({ drying: [at(70, 0), at(50, 5)], lines: ['+ 61.20 mg S', '+ 61.21 mg S'] })).toEqual([]);
  });

  it('keeps silent about a crop it hardly knows', () => {
    expect(codes({ turgidMassMg: 90, cropTurgidDryRatios: [5.6, 5.7, 5.8], cropTurgidMassPerAreaMgCm2: [22, 23] })).toEqual([]);
  });

  it('names the values and the limit', () => {
    const [flag] = plausibilityFlags({ ...good, freshMassMg: 72 });
    expect(flag!.message).toBe('RWC is 103.4 %, above 103.0 %. Weigh again before the disc is discarded.');
    expect(plausibilityFlags({ ...good, freshWeighedAtMs: 61_000 })[0]!.message).toMatch(/61 s after cutting; the limit is 60 s/);
  });

  it('takes other limits', () => {
    expect(codes({ freshMassMg: 11, dryingMassesMg: [], ovenMassesMg: [] })).toContain('ask RWC_BELOW_ZERO');
    expect(plausibilityFlags({ ...good, freshMassMg: 11 }, { ...HOUSE_LIMITS, rwcLeast: -0.1 }).map((f) => f.code)).not.toContain('RWC_BELOW_ZERO');
    expect(plausibilityFlags({ ...good, dryingMassesMg: [70, 66, 66.3] }, { ...HOUSE_LIMITS, risingSteps: 4 })).toEqual([]);
    expect(plausibilityFlags({ ...good, freshMassMg: 69.9 }, { ...HOUSE_LIMITS, rwcWarn: 0.99 }).map((f) => f.code)).toEqual(['RWC_ABOVE_ONE']);
  });

  it('has each code once and a reason for each', () => {
    expect(new Set(PLAUSIBILITY_RULES.map((rule) => rule.code)).size).toBe(PLAUSIBILITY_RULES.length);
    for (const rule of PLAUSIBILITY_RULES) expect(rule.why).toMatch(/\.$/);
  });

  it('refuses a mass that is no number, by name', () => {
    expect(() => plausibilityFlags({ turgidMassMg: NaN })).toThrow(/turgidMassMg/);
    expect(() => plausibilityFlags({ ...good, areaCm2: 0 })).toThrow(/areaCm2/);
    expect(() => plausibilityFlags({ dryingMassesMg: [1, NaN] })).toThrow(/dryingMassesMg\[1\]/);
  });
});

describe('robustSpread', () => {
  // 1.4826 = 1/Φ⁻¹(3/4): scales the median deviation to the SD of a normal sample (Hampel 1974, from memory).
  it('is not moved by one wrong disc', () => {
    const values = [5.6, 5.7, 5.8, 5.9, 5.7];
    expect(robustSpread([...values, 99]).sd).toBeCloseTo(robustSpread([...values, 7]).sd, 12);
    expect(robustSpread([1, 2, 3, 4, 100])).toEqual({ median: 3, sd: 1.4826 });
    expect(robustSpread([2, 1]).median).toBe(1.5);
    expect(() => robustSpread([])).toThrow(/values/);
  });
});
