import { CONSTANT_MASS_RULES, constantMass, ConstantMassRule } from '../src/index.js';

const HOUR = 3_600_000;
const at = (...masses: [number, number][]) => masses.map(([hours, massMg]) => ({ massMg, atMs: hours * HOUR }));
const verdict = (checks: { massMg: number; atMs: number }[], resolutionMg: number, rule?: ConstantMassRule) =>
  constantMass({ checks, resolutionMg, rule });

describe('constant mass by the house rule: max(0.5 %, two steps), at least 1 h apart', () => {
  it('is set by the balance on a small disc', () => {
    expect(verdict(at([0, 12.3], [1, 12.1]), 0.1)).toMatchObject({ constant: true, verdict: 'constant', limbApplied: 'resolution', toleranceMg: 0.2, elapsedMin: 60, nextCheckAtMs: null });
    expect(verdict(at([0, 12.4], [1, 12.1]), 0.1)).toMatchObject({ constant: false, verdict: 'still losing', nextCheckAtMs: 2 * HOUR });
  });

  it('is set by the share on a large one', () => {
    expect(verdict(at([0, 60.3], [1, 60.0]), 0.1)).toMatchObject({ constant: true, limbApplied: 'relative' });
    expect(verdict(at([0, 60.3], [1, 60.0]), 0.1).toleranceMg).toBeCloseTo(0.3, 12);
    expect(verdict(at([0, 60.4], [1, 60.0]), 0.1).constant).toBe(false);
  });

  it('passes a loss exactly at the limit, though doubles say 12.3 − 12.1 > 0.2', () => {
    expect(12.3 - 12.1).toBeGreaterThan(0.2);
    expect(verdict(at([0, 12.3], [1, 12.1]), 0.1).constant).toBe(true);
  });

  it('tells a gain from a loss', () => {
    expect(verdict(at([0, 12.1], [1, 12.5]), 0.1)).toMatchObject({ constant: false, verdict: 'gaining' });
    expect(verdict(at([0, 12.1], [1, 12.2]), 0.1)).toMatchObject({ constant: true, verdict: 'constant' });
  });

  it('waits for the second weighing and says when', () => {
    expect(verdict(at([5, 12.1]), 0.1)).toMatchObject({ constant: false, verdict: 'too few checks', lossMg: null, nextCheckAtMs: 6 * HOUR });
    expect(verdict(at([0, 12.1], [0.5, 12.1]), 0.1)).toMatchObject({ constant: false, verdict: 'too soon', nextCheckAtMs: HOUR });
  });

  it('compares with the latest weighing far enough back, not with the one before', () => {
    const slow = at([0, 13.0], [0.5, 12.5], [1, 12.4], [1.5, 12.3]);
    expect(verdict(slow, 0.1)).toMatchObject({ comparedWith: 1, constant: true });
    const fast = at([0, 13.4], [0.5, 13.0], [1, 12.7], [1.5, 12.5]);
    expect(verdict(fast, 0.1)).toMatchObject({ comparedWith: 1, constant: false });
  });

  it('says in words what it saw', () => {
    expect(verdict(at([0, 12.4], [1, 12.1]), 0.1).message).toBe('Still drying: lost 0.3 mg in 60 min, more than 0.2 mg (steps of the balance). Dry on and weigh again.');
  });
});

describe('published rules as parameter sets', () => {
  // "0.1 % constant mass" cannot be tested on a 12 mg disc with a 0.1 mg balance: 0.012 mg against 0.2 mg; USP: 0.006 mg.
  it.each([['iso11465', '0.012'], ['en13183', '0.012'], ['usp', '0.006']] as const)('%s allows %s mg of 12 mg: less than the balance shows', (name, tolerance) => {
    const result = verdict(at([0, 12], [3, 12]), 0.1, CONSTANT_MASS_RULES[name]);
    expect(result).toMatchObject({ constant: false, verdict: 'below what the balance resolves', nextCheckAtMs: null });
    expect(result.toleranceMg!.toFixed(3)).toBe(tolerance);
    expect(result.message).toMatch(/finer balance/);
  });

  it('can be tested on a gram', () => {
    expect(verdict(at([0, 1000.4], [1, 1000]), 0.1, CONSTANT_MASS_RULES.usp)).toMatchObject({ constant: true, limbApplied: 'relative' });
    expect(verdict(at([0, 1000.6], [1, 1000]), 0.1, CONSTANT_MASS_RULES.usp).constant).toBe(false);
    expect(verdict(at([0, 1000.9], [1.9, 1000]), 0.1, CONSTANT_MASS_RULES.en13183).verdict).toBe('too soon');
    expect(verdict(at([0, 1000.9], [2, 1000]), 0.1, CONSTANT_MASS_RULES.en13183).constant).toBe(true);
  });

  it('takes Ph. Eur. as a fixed half milligram and ASTM D4442 as two steps in three hours', () => {
    expect(verdict(at([0, 12.5], [0.5, 12]), 0.1, CONSTANT_MASS_RULES.phEur)).toMatchObject({ constant: true, limbApplied: 'absolute' });
    expect(verdict(at([0, 12.6], [0.5, 12]), 0.1, CONSTANT_MASS_RULES.phEur).constant).toBe(false);
    expect(verdict(at([0, 12.2], [3, 12]), 0.1, CONSTANT_MASS_RULES.astmD4442)).toMatchObject({ constant: true, limbApplied: 'resolution' });
  });

  it('lets a rule that is written in steps of the display stand, even one step', () => {
    const oneStep: ConstantMassRule = { name: 'one step', source: 'invented for this test', standing: 'house', resolutionSteps: 1, intervalMin: 60 };
    expect(verdict(at([0, 12.1], [1, 12]), 0.1, oneStep)).toMatchObject({ constant: true, toleranceMg: 0.1 });
    expect(verdict(at([0, 12.2], [1, 12]), 0.1, oneStep).verdict).toBe('still losing');
  });

  it('says how well each is known', () => {
    for (const rule of Object.values(CONSTANT_MASS_RULES)) {
      expect(rule.standing === 'memory').toBe(/^(ISO|EN|ASTM)/.test(rule.name));
    }
  });
});

describe('bad input', () => {
  it('is refused by name', () => {
    expect(() => verdict([], 0.1)).toThrow(/checks: there is no weighing/);
    expect(() => verdict(at([0, 12], [0, 12]), 0.1)).toThrow(/checks\[1\].atMs/);
    expect(() => verdict(at([1, 12], [0, 12]), 0.1)).toThrow(/time order/);
    expect(() => verdict(at([0, 0]), 0.1)).toThrow(/checks\[0\].massMg/);
    expect(() => verdict(at([0, 12]), 0)).toThrow(/resolutionMg/);
    const rule: ConstantMassRule = { name: 'own', source: '', standing: 'house', intervalMin: 60, absoluteLimitMg: 1 };
    expect(() => verdict(at([0, 12]), 0.1, { ...rule, intervalMin: -60 })).toThrow(/rule\.intervalMin/);
    expect(() => verdict(at([0, 12]), 0.1, { ...rule, absoluteLimitMg: NaN })).toThrow(/rule\.absoluteLimitMg/);
    expect(() => verdict(at([0, 12]), 0.1, { name: 'none', source: '', standing: 'house', intervalMin: 1 })).toThrow(/sets no limit/);
  });
});
