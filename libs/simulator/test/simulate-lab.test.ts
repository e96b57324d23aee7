import { leafTransmittance } from '#libs/optics';
import { LabEvent, demoScenario, dryingRwc, simulateField, simulateLab, trueDiscMasses } from '../src/index.js';

const scenario = demoScenario('2026-06-30T17:00:00+02:00');
const lab = simulateLab('demo', scenario);
const kindOf = <K extends LabEvent['kind']>(events: readonly LabEvent[], kind: K) => events.filter((e): e is Extract<LabEvent, { kind: K }> => e.kind === kind);
const biases = Object.fromEntries(kindOf(lab.events, 'certificate').map((c) => [c.key, 9.4]));
const field = simulateField(lab, biases);
const all = [...lab.events, ...field.events];

/** All keys an event refers to. */
function references(event: LabEvent): string[] {
  return Object.entries(event).flatMap(([name, value]) => {
    if (name === 'key' || name === 'amendmentKey') return [];
    if (name.endsWith('Key')) return [value as string];
    return name.endsWith('Keys') ? (value as readonly string[]) : [];
  });
}

describe('simulateLab', () => {
  it('is the size the demo asks for', () => {
    const leaves = kindOf(lab.events, 'leaf');
    for (const crop of scenario.crops) expect(leaves.filter((l) => l.plantKey.startsWith(`plant/${crop.key}/`)).length).toBeGreaterThanOrEqual(6);
    const weighings = kindOf(lab.events, 'weighing').length;
    expect(weighings).toBeGreaterThanOrEqual(400);
    expect(weighings).toBeLessThanOrEqual(700);
    expect(kindOf(lab.events, 'device-unit').length).toBe(8);
    expect(kindOf(lab.events, 'certificate').length).toBe(6);
    expect(kindOf(lab.events, 'weighing-amendment').length).toBe(1);
    expect(scenario.crops.map((c) => c.key)).toEqual(['grapevine', 'pepper']);
  });

  it('tells events in order of time, each with its own key, referring only to what came before', () => {
    const known = new Set<string>();
    let last = -Infinity;
    for (const event of all) {
      const at = Date.parse(event.at);
      if (lab.events.includes(event)) {
        expect(at).toBeGreaterThanOrEqual(last);
        last = at;
      }
      expect(known.has(event.key)).toBe(false);
      references(event).forEach((key) => {
        if (!known.has(key)) throw new Error(`${event.key} refers to ${key}, which no earlier event made`);
      });
      known.add(event.key);
    }
  });

  it('never passes the end, keeps the offset, and names only people who exist', () => {
    const people = new Set(lab.people.map((p) => p.key));
    for (const event of all) {
      expect(Date.parse(event.at)).toBeLessThanOrEqual(Date.parse(scenario.endsAt));
      expect(event.at).toMatch(/^2026-0[56]-\d\dT\d\d:\d\d:\d\d\.000\+02:00$/);
      expect(people.has(event.by)).toBe(true);
    }
  });

  it('has no two acts of signing by the author', () => {
    const author = new Map(all.map((e) => [e.key, e.by]));
    const signatures = kindOf(all, 'signature');
    expect(signatures.length).toBe(2 * (2 + 6) + 1);
    signatures.forEach((s) => expect(s.by).not.toBe(author.get(s.subjectKey)));
  });

  it('writes what instruments would write', () => {
    for (const weighing of kindOf(lab.events, 'weighing')) {
      expect(weighing.massText).toMatch(/^\d+\.\d\d$/);
      expect(weighing.rawLine).toBe(weighing.entry === 'line' ? `ST  +${weighing.massText.padStart(8)} mg` : weighing.massText);
    }
    for (const reading of kindOf(lab.events, 'meter-reading')) {
      expect(reading.rawLine).toBe(`P  +${reading.powerText.padStart(9)} nW`);
      expect(reading.lightPath === 'reading').toBe(reading.discKey !== undefined);
    }
  });

  it('weighs near the truth: turgid within blotting, dry within the last water and the balance', () => {
    for (const weighing of kindOf(lab.events, 'weighing')) {
      const disc = lab.truth.discs[weighing.discKey]!;
      if (weighing.state === 'turgid') expect(Math.abs(Number(weighing.massText) / disc.turgidMassMg - 1)).toBeLessThan(5 * 0.003);
      if (weighing.key.endsWith('/dry-2')) expect(Math.abs(Number(weighing.massText) - disc.dryMassMg)).toBeLessThan(0.08);
    }
  });

  it('puts every reading between weighings and every run between references and darks', () => {
    for (const run of kindOf(lab.events, 'drying-run-open')) {
      const light = kindOf(lab.events, 'meter-reading').filter((r) => r.dryingRunKey === run.key);
      const readings = light.filter((r) => r.lightPath === 'reading');
      for (const path of ['dark', 'reference']) {
        const times = light.filter((r) => r.lightPath === path).map((r) => Date.parse(r.observedAt));
        expect(Math.min(...times)).toBeLessThan(Date.parse(readings[0]!.observedAt));
        expect(Math.max(...times)).toBeGreaterThan(Date.parse(readings.at(-1)!.observedAt));
      }
      for (const disc of run.discKeys) {
        const weighed = kindOf(lab.events, 'weighing').filter((w) => w.discKey === disc && w.state === 'drying').map((w) => Date.parse(w.observedAt));
        const read = readings.filter((r) => r.discKey === disc).map((r) => Date.parse(r.observedAt));
        expect(read.length).toBe(scenario.cycles);
        expect(weighed.length).toBe(scenario.cycles + 1);
        read.forEach((at, i) => expect(at > weighed[i]! && at < weighed[i + 1]!).toBe(true));
      }
    }
  });

  it('checks the first balance within a day of every use and lets the second slip', () => {
    for (const weighing of kindOf(lab.events, 'weighing')) {
      const instrument = kindOf(lab.events, 'instrument').find((i) => i.key === weighing.balanceKey)!;
      const age = kindOf(lab.events, 'instrument-check').filter((c) => c.instrumentKey === weighing.balanceKey)
        .map((c) => Date.parse(weighing.observedAt) - Date.parse(c.at)).filter((ms) => ms >= 0);
      expect(Math.min(...age)).toBeLessThanOrEqual(instrument.checkEveryHours * 3600e3);
    }
    const second = kindOf(lab.events, 'instrument-check').filter((c) => c.instrumentKey === 'balance-2');
    expect(Date.parse(scenario.endsAt) - Date.parse(second.at(-1)!.at)).toBeGreaterThan(168 * 3600e3);
  });

  it('mistypes one weighing and amends it before the disc is weighed again', () => {
    const { weighingKey, amendedByKey } = lab.truth.mistake!;
    const wrong = kindOf(lab.events, 'weighing').find((w) => w.key === weighingKey)!;
    const right = kindOf(lab.events, 'weighing-amendment')[0]!;
    expect([right.key, right.amendsKey, right.observedAt, right.discKey]).toEqual([amendedByKey, weighingKey, wrong.observedAt, wrong.discKey]);
    expect([...wrong.massText].sort()).toEqual([...right.massText].sort());
    expect(Number(wrong.massText)).toBeLessThan(Number(right.massText));
    const next = kindOf(lab.events, 'weighing').find((w) => w.discKey === wrong.discKey && w.state === 'drying' && w.observedAt > wrong.observedAt)!;
    expect(Date.parse(right.at)).toBeLessThan(Date.parse(next.at));
  });

  it('gives the same bytes for a seed, others for another, and moves nothing else when a room changes', () => {
    expect(JSON.stringify(simulateLab('demo', scenario))).toBe(JSON.stringify(lab));
    expect(JSON.stringify(simulateLab('demo 2', scenario).truth)).not.toBe(JSON.stringify(lab.truth));
    const noisier = simulateLab('demo', { ...scenario, rig: { ...scenario.rig, meterNoiseNw: 1 } });
    expect(kindOf(noisier.events, 'weighing')).toEqual(kindOf(lab.events, 'weighing'));
    expect(noisier.truth.units).toEqual(lab.truth.units);
  });

  it('works for a hundred seeds and any end and offset', () => {
    for (let seed = 0; seed < 100; seed += 1) {
      const other = simulateLab(`seed ${seed}`, demoScenario(seed % 2 === 0 ? '2027-01-01T00:30:00-05:30' : '2026-11-25T09:00:00Z'));
      expect(kindOf(other.events, 'weighing-amendment').length).toBe(1);
      expect(Date.parse(other.events.at(-1)!.at)).toBeLessThanOrEqual(Date.parse(other.scenario.endsAt));
    }
  });

  it('refuses a scenario it cannot play', () => {
    expect(() => simulateLab('x', demoScenario('yesterday'))).toThrow(expect.objectContaining({ code: 'NOT_A_MOMENT' }));
    expect(() => simulateLab('x', { ...scenario, devices: { ...scenario.devices, installedPerCrop: 5 } })).toThrow(expect.objectContaining({ code: 'TOO_FEW_UNITS' }));
    expect(() => simulateLab('x', { ...scenario, crops: [{ ...scenario.crops[0]!, runs: [] }] })).toThrow(expect.objectContaining({ code: 'NO_RUNS' }));
  });
});

describe('a true leaf', () => {
  it('weighs what its water and dry matter weigh: 1 cm² with 200 µm and 50 g m⁻² is 20 mg on 5 mg (by hand)', () => {
    const masses = trueDiscMasses({ ewtTurgidUm: 200, lmaGm2: 50, structureN: 1.5 }, 100);
    expect(masses.dryMassMg).toBeCloseTo(5, 12);
    expect(masses.turgidMassMg).toBeCloseTo(25, 12);
  });

  it('dries by the integral of its rate', () => {
    const rate = { openPerMin: 0.01, closedPerMin: 0.003, closingMin: 20 };
    expect(dryingRwc(rate, 0)).toBe(1);
    let rwc = 1;
    for (let t = 0; t < 180; t += 0.01) rwc *= 1 - 0.01 * (0.003 + 0.007 * Math.exp(-t / 20));
    expect(dryingRwc(rate, 180)).toBeCloseTo(rwc, 4);
  });
});

describe('simulateField', () => {
  it('installs six units, trips some, and decides with reasons', () => {
    expect(kindOf(field.events, 'installation').length).toBe(6);
    expect(kindOf(field.events, 'trip').length).toBeGreaterThan(0);
    const decisions = kindOf(field.events, 'decision');
    expect(decisions.length).toBeGreaterThan(0);
    decisions.forEach((d) => expect(d.reason).toMatch(/units in [VP]1 have tripped/));
  });

  it('trips a unit only where the light behind its leaf reaches its threshold', () => {
    for (const [key, truth] of Object.entries(field.truth.installations)) {
      if (truth.rwcAtTrip === null) continue;
      const unit = lab.truth.units[key.replace('installation', 'unit')]!;
      const crop = Number(key.split('/')[1]) <= 3 ? scenario.crops[0]! : scenario.crops[1]!;
      const through = leafTransmittance({ ewtUm: truth.leaf.ewtTurgidUm * truth.rwcAtTrip, lmaGm2: truth.leaf.lmaGm2, structureN: truth.leaf.structureN, wavelengthNm: 1470 });
      const threshold = unit.powerAtZeroBiasNw * (1 - (truth.appliedBiasV / unit.pullInV) ** unit.exponent);
      // Trip scatter is 1.5 %; the light moves by flicker between two looks.
      expect((through * crop.noonPowerNw * truth.lightRatioAtTrip!) / threshold).toBeGreaterThan(1 - 5 * 0.015);
    }
  });

  it('trips drier leaves at a lower bias', () => {
    const later = simulateField(lab, Object.fromEntries(Object.keys(biases).map((key) => [key, 8.8])));
    for (const [key, truth] of Object.entries(field.truth.installations)) {
      const other = later.truth.installations[key]!;
      if (truth.rwcAtTrip !== null && other.rwcAtTrip !== null) expect(other.rwcAtTrip).toBeLessThan(truth.rwcAtTrip + 0.03);
    }
  });

  it('wants a bias for every certificate', () => {
    expect(() => simulateField(lab, {})).toThrow(expect.objectContaining({ code: 'BIAS_MISSING' }));
    expect(() => simulateField(lab, { ...biases, 'certificate/1': 40 })).toThrow(expect.objectContaining({ code: 'BIAS_AT_OR_ABOVE_PULL_IN' }));
  });
});
