import fc from 'fast-check';
import { createStream } from '#libs/numeric';
import { acceptanceLimits, acceptanceLimitsForRisk, conformanceProbability, decideConformity, inspectionRisks } from '#libs/uncertainty';

const known = (value: number, standardUncertainty: number) => ({ value, standardUncertainty, degreesOfFreedom: Infinity });

describe('conformance probability (JCGM 106:2012, 7)', () => {
  test('one limit: Φ((T − y)/u)', () => {
    expect(conformanceProbability(known(0, 1), { upper: 1.6448536269514722 })).toBeCloseTo(0.95, 14);
    expect(conformanceProbability(known(0, 1), { lower: -1.6448536269514722 })).toBeCloseTo(0.95, 14);
  });

  test('two limits, 9 to 11 with u = 0.4: the specific risks printed by an open uncertainty calculator (suncal, test_risk, test_cpk)', () => {
    const risk = (y: number) => 1 - conformanceProbability(known(y, 0.4), { lower: 9, upper: 11 });
    expect([risk(10), risk(10.5), risk(12)].map((r) => Number(r.toFixed(5)))).toEqual([0.01242, 0.10574, 0.99379]);
  });

  test('far out in the tail nothing is lost, and finite degrees of freedom give Student t', () => {
    expect(conformanceProbability(known(0, 1), { lower: 10, upper: 11 }) / 7.619853024160527e-24).toBeCloseTo(1, 2);
    expect(conformanceProbability(known(0, 1), { lower: -11, upper: -10 })).toBe(conformanceProbability(known(0, 1), { lower: 10, upper: 11 }));
    // t of 4 degrees of freedom: P(T ≤ 2.132) = 0.95 (JCGM 100 table G.2 for 90 %: 2.13).
    expect(conformanceProbability({ value: 0, standardUncertainty: 1, degreesOfFreedom: 4 }, { upper: 2.131846786326649 })).toBeCloseTo(0.95, 10);
  });
});

describe('guard bands (JCGM 106:2012, 8)', () => {
  test('w = r·U', () => {
    expect(acceptanceLimits({ upper: 100 }, 2, 1)).toEqual({ upper: 98 });
    expect(acceptanceLimits({ lower: 90, upper: 100 }, 2, 0)).toEqual({ lower: 90, upper: 100 });
    expect(acceptanceLimits({ lower: 90, upper: 100 }, 2, -1)).toEqual({ lower: 88, upper: 102 });
    expect(() => acceptanceLimits({ lower: 90, upper: 100 }, 6, 1)).toThrow(expect.objectContaining({ code: 'NO_ROOM' }));
  });

  test('at the limits found for a risk the conformance probability is one minus the risk, for any width of tolerance', () => {
    fc.assert(
      fc.property(fc.double({ min: 5, max: 40, noNaN: true }), fc.double({ min: 0.001, max: 0.2, noNaN: true }), fc.constantFrom(1e-3, 1, 1e4), (width, risk, unit) => {
        const tolerance = { lower: 3 * unit, upper: (3 + width) * unit };
        fc.pre(conformanceProbability(known((3 + width / 2) * unit, unit), tolerance) > 1 - risk + 1e-6);
        const { lower, upper } = acceptanceLimitsForRisk(tolerance, unit, risk);
        for (const limit of [lower!, upper!]) expect(conformanceProbability(known(limit, unit), tolerance)).toBeCloseTo(1 - risk, 9);
      }),
    );
    // One limit: 1.645 u (8.3.2.2 uses this for 5 %).
    expect(acceptanceLimitsForRisk({ lower: 0 }, 1, 0.05).lower).toBeCloseTo(1.6448536, 6);
    expect(() => acceptanceLimitsForRisk({ lower: 0, upper: 1 }, 1, 0.05)).toThrow(expect.objectContaining({ code: 'NO_ROOM' }));
  });

  test('four outcomes, each at its place, with the chance of being wrong', () => {
    const tolerance = { lower: 60, upper: 80 };
    const decisions = [70, 79, 80, 80.5, 82.5, 58, 59].map((y) => decideConformity(known(y, 1), tolerance, 2).decision);
    expect(decisions).toEqual(['pass', 'conditional pass', 'conditional pass', 'conditional fail', 'fail', 'fail', 'conditional fail']);
    expect(decideConformity(known(80, 1), tolerance, 2).risk).toBeCloseTo(0.5, 12);
    expect(decideConformity(known(82, 1), tolerance, 2)).toMatchObject({ decision: 'fail', risk: expect.closeTo(0.02275, 5) });
    expect(decideConformity(known(78, 1), { upper: 80 }, 2)).toMatchObject({ decision: 'pass', risk: expect.closeTo(0.02275, 5) });
  });
});

describe('risks averaged over many items (JCGM 106:2012, 9.5)', () => {
  // NCSLI RP-19 draft table as quoted in suncal test_risk_values: tolerance ±1, measurement SD a quarter of the process SD; PFA and PFA given acceptance, per cent.
  test.each([
    [1.18818294989389, 0.2970457374734725, 4.83860326, 8.26008199],
    [0.9648473410224805, 0.24121183525562012, 3.92234109, 5.72322042],
    [0.7803041460723791, 0.19507603651809477, 2.85583037, 3.63227145],
    [0.6079568319117692, 0.1519892079779423, 1.59995312, 1.7988043],
    [0.5102134569246539, 0.12755336423116348, 0.87100925, 0.92389664],
    [0.38822448312946434, 0.09705612078236608, 0.19991684, 0.20243866],
  ])('process SD %p: false accept, and bad among accepted', (standardDeviation, standardUncertainty, falseAccept, conditional) => {
    const limits = { lower: -1, upper: 1 };
    const risks = inspectionRisks({ population: { mean: 0, standardDeviation }, standardUncertainty, tolerance: limits, acceptance: limits });
    // The table itself carries about six digits.
    expect(Math.abs((100 * risks.consumerRisk) / falseAccept - 1)).toBeLessThan(1.5e-6);
    expect(Math.abs(risks.badAmongAccepted / (conditional / 100) - (risks.consumerRisk * 100) / falseAccept)).toBeLessThan(0.09);
  });

  test('Deaver (NCSL 1993), process SD half the tolerance, ratio 4: 0.8 % and 1.5 %; at ratio 2 a guard band of 0.91 brings 0.8 % and 6.6 %', () => {
    const tolerance = { lower: -1, upper: 1 };
    const population = { mean: 0, standardDeviation: 0.5 };
    const plain = inspectionRisks({ population, standardUncertainty: 0.125, tolerance, acceptance: tolerance });
    expect(plain.consumerRisk).toBeCloseTo(0.008006084834, 10);
    expect(plain.producerRisk).toBeCloseTo(0.014850884211, 10);
    const guarded = inspectionRisks({ population, standardUncertainty: 0.25, tolerance, acceptance: { lower: -0.91, upper: 0.91 } });
    expect(guarded.consumerRisk).toBeCloseTo(0.008, 3);
    expect(guarded.producerRisk).toBeCloseTo(0.066, 3);
  });

  test('agrees with counting simulated items, one limit only', () => {
    const stream = createStream('inspection', 0);
    const plan = { population: { mean: 5, standardDeviation: 1 }, standardUncertainty: 0.5, tolerance: { upper: 6 }, acceptance: { upper: 5.7 } };
    const items = 200_000;
    let falseAccept = 0;
    let falseReject = 0;
    for (let k = 0; k < items; k += 1) {
      const trueValue = 5 + stream.normal();
      const accepted = trueValue + 0.5 * stream.normal() <= 5.7;
      falseAccept += accepted && trueValue > 6 ? 1 : 0;
      falseReject += !accepted && trueValue <= 6 ? 1 : 0;
    }
    const risks = inspectionRisks(plan);
    for (const [count, risk] of [[falseAccept, risks.consumerRisk], [falseReject, risks.producerRisk]] as const) {
      expect(Math.abs(count / items - risk)).toBeLessThan(4 * Math.sqrt(risk / items));
    }
    expect(risks.accepted).toBeCloseTo(0.734, 3);
  });
});

describe('limits that make no sense', () => {
  test.each([
    ['LIMITS', () => conformanceProbability(known(0, 1), {})],
    ['LIMITS', () => conformanceProbability(known(0, 1), { lower: 2, upper: 1 })],
    ['NOT_FINITE', () => conformanceProbability(known(0, 1), { lower: NaN })],
    ['NOT_POSITIVE', () => conformanceProbability(known(0, 0), { lower: 1 })],
    ['GUARD_BAND', () => decideConformity(known(0, 1), { lower: 1 }, -1)],
    ['RISK', () => acceptanceLimitsForRisk({ lower: 1 }, 1, 0.7)],
    ['NOT_POSITIVE', () => inspectionRisks({ population: { mean: 0, standardDeviation: 0 }, standardUncertainty: 1, tolerance: { upper: 1 }, acceptance: { upper: 1 } })],
  ])('%s', (code, compute) => {
    expect(compute).toThrow(expect.objectContaining({ name: 'InputError', code }));
  });
});
