import { demoScenario, simulateField, simulateFieldLife, simulateLab, type LabEvent } from '../src/index.js';

const lab = simulateLab('demo', demoScenario('2026-06-30T17:00:00+02:00'));
const field = simulateField(lab, Object.fromEntries([1, 2, 3, 4, 5, 6].map((i) => [`certificate/${i}`, 9.4])));
const life = simulateFieldLife(lab, field);
const ofKind = <K extends LabEvent['kind']>(kind: K) => life.filter((event): event is Extract<LabEvent, { kind: K }> => event.kind === kind);

describe('what goes on around trips and decisions', () => {
  it('refers only to what was made before, in order, within the story', () => {
    const known = new Set([...lab.events, ...field.events].map(({ key }) => key));
    let last = 0;
    for (const event of life) {
      const at = Date.parse(event.at);
      expect(at).toBeGreaterThanOrEqual(last);
      last = at;
      expect(at).toBeLessThanOrEqual(Date.parse(lab.scenario.endsAt));
      for (const [name, value] of Object.entries(event)) {
        if (name.endsWith('Key')) expect(known).toContain(value);
        if (name.endsWith('Keys')) for (const key of value as string[]) expect(known).toContain(key);
      }
      expect(known.has(event.key)).toBe(false);
      known.add(event.key);
    }
  });

  it('has a signed rule and a plan for every zone, one logger that dies, and discs of tripped leaves', () => {
    expect(ofKind('zone-rule')).toHaveLength(2);
    expect(ofKind('signature')).toHaveLength(4);
    expect(ofKind('site-plan')).toHaveLength(2);
    expect(ofKind('field-check').length).toBeGreaterThanOrEqual(2);
    expect(ofKind('rwc-series')).toHaveLength(ofKind('field-check').length);
    const reportsOf = (key: string) => ofKind('field-report').filter(({ installationKey }) => installationKey === key).length;
    expect(reportsOf('installation/6')).toBeLessThan(reportsOf('installation/5'));
  });

  it('reports a latch that stands from its trip to its opening', () => {
    for (const { installationKey, observedAt } of ofKind('latch-reset')) {
      const reports = ofKind('field-report').filter((report) => report.installationKey === installationKey);
      expect(reports.some(({ latched, observedAt: at }) => latched && at < observedAt)).toBe(true);
      expect(reports.filter(({ observedAt: at }) => Date.parse(at) > Date.parse(observedAt)).some(({ latched }) => latched)).toBe(false);
    }
  });
});
