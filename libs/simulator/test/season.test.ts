import { seasonScenario, simulateLab, simulateSeason } from '../src/index.js';

const lab = simulateLab('season', seasonScenario('2026-06-30T17:00:00+02:00', { crops: 2, unitsPerCrop: 6, leaves: 4 }));
const biasV = Object.fromEntries(Array.from({ length: 12 }, (_, i) => [`certificate/${i + 1}`, 9]));

describe('simulateSeason', () => {
  const season = simulateSeason(lab, biasV);

  it('gives every leaf one day wet and one day dry, and the same bytes again', () => {
    expect(season.truth.exposures.filter(({ kind }) => kind === 'wet')).toHaveLength(12);
    expect(season.truth.exposures.filter(({ kind }) => kind === 'dry').length).toBeGreaterThanOrEqual(11);
    expect(simulateSeason(lab, biasV)).toEqual(season);
  });

  it('names only what was made before, in order, and nothing after the end', () => {
    const known = new Set(lab.events.map(({ key }) => key));
    let last = 0;
    for (const event of season.events) {
      const at = Date.parse(event.at);
      expect(at).toBeGreaterThanOrEqual(last);
      last = at;
      for (const [name, value] of Object.entries(event)) {
        if (name.endsWith('Key')) expect(known).toContain(value);
        if (name.endsWith('Keys')) for (const key of value as string[]) expect(known).toContain(key);
      }
      known.add(event.key);
    }
    expect(last).toBeLessThan(Date.parse(lab.scenario.endsAt));
  });

  it('a bias set higher than the certificate says trips wetter leaves', () => {
    const higher = Object.fromEntries(Object.entries(biasV).map(([key, value]) => [key, value + 1.5]));
    const trips = (set: typeof biasV) => simulateSeason(lab, biasV, set).truth.exposures.filter(({ tripped }) => tripped).length;
    expect(trips(higher)).toBeGreaterThan(trips(biasV));
  });
});
