import fc from 'fast-check';
import { createStream } from '#libs/numeric';
import { families } from '#libs/regression';
import {
  CertificateRequest, ComputedCertificate, certify, certifyMonteCarlo, falseTripChance, guardBandTarget, lightReferenceFromDays, missedTripChance, relativeSlope, spreadOfNextDay, targetForRisk, thresholdPower, tripProbability, tripProbabilityFrom, tripRwcShift, tripRwcUnderLight,
  voteProbability,
} from '../src/index.js';

const zero3 = [[0, 0, 0], [0, 0, 0], [0, 0, 0]];

/** ln T = −0.9 − R; E_ref 1000 nW; P0 400 nW, V_pi 10 V, n = 2/3: every figure below follows by hand. */
const request: CertificateRequest = {
  calibration: {
    law: families['log-linear'], parameters: [-0.9, -1], covariance: [[0, 0], [0, 0]],
    betweenLeaf: { kind: 'log-transmittance', sd: 0.09 }, rwcRange: { min: 0.4, max: 1 },
  },
  lightReference: { powerNw: 1000, relativeSd: 0.1 },
  curve: {
    powerAtZeroBiasNw: 400, pullInV: 10, exponent: 2 / 3, covariance: zero3, testedBiasV: { min: 0, max: 9 }, tripScatter: 0.05, exponentAtBound: null,
  },
  targetRwc: 0.7,
  guard: { minMarginSigma: 5, biasSourceResolutionV: 0.0001, biasSourceSdV: 0, pullInDriftSdV: 0.05 },
  coverage: 0.95,
};

function computed(r: CertificateRequest): ComputedCertificate {
  const certificate = certify(r);
  if (certificate.outcome !== 'computed') throw new Error(`expected a computed certificate, got ${certificate.findings[0]?.sentence}`);
  return certificate;
}

describe('tripRwcShift', () => {
  // The house's table (derived there): b from ln of the ratio T(0.6)/T(1) over 0.4 of RWC.
  it.each([[23 / 20, 1.1, 27, 0.5], [22.5 / 15, 1.05, 4.8, 0.05], [22.5 / 15, 1.1, 9.4, 0.05], [8 / 5, 1.05, 4.2, 0.05], [8 / 5, 1.1, 8.1, 0.05]])(
    'for a leaf %p-fold brighter at 60 %% RWC than at full turgor, %p times the light moves %p points', (rise, ratio, points, printed) => {
      expect(Math.abs(100 * tripRwcShift(Math.log(rise) / 0.4, ratio) - points)).toBeLessThanOrEqual(printed + 1e-9);
    });

  it('is what the general form gives for the log-linear family', () => {
    fc.assert(fc.property(fc.double({ min: 0.3, max: 2, noNaN: true }), fc.double({ min: 0.5, max: 2, noNaN: true }), (b, ratio) => {
      expect(tripRwcUnderLight(families['log-linear'], [-0.9, -b], 0.8, ratio)).toBeCloseTo(0.8 + tripRwcShift(b, ratio), 9);
    }));
  });

  it.each([[families.linear, [0.45, -0.3]], [families.exponential, [0.05, 0.6, -1.8]], [families.power, [-1.6, -0.9]], [families.logistic, [0.1, 0.4, 4, 0.7]]])('balances power at the trip for any family', (law, parameters) => {
    const rwc = tripRwcUnderLight(law, parameters, 0.8, 1.07);
    expect(law.predict(parameters, rwc) * 1.07).toBeCloseTo(law.predict(parameters, 0.8), 12);
    expect(rwc).toBeGreaterThan(0.8);
    // For small changes of light any family is log-linear with its local slope.
    const tiny = tripRwcUnderLight(law, parameters, 0.8, 1 + 1e-6) - 0.8;
    expect(tiny / tripRwcShift(relativeSlope(law, parameters, 0.8), 1 + 1e-6)).toBeCloseTo(1, 4);
  });

  it('refuses light the family cannot answer', () => {
    expect(() => tripRwcUnderLight(families.exponential, [0.1, 0.6, -1.8], 0.8, 10)).toThrow(expect.objectContaining({ code: 'NO_TRIP_RWC' }));
    expect(() => tripRwcShift(0, 1)).toThrow(expect.objectContaining({ field: 'relativeSlopeB' }));
    expect(() => relativeSlope(families['log-linear'], [-0.9, 1], 0.8)).toThrow(expect.objectContaining({ code: 'TRANSMITTANCE_DOES_NOT_FALL' }));
    expect(() => relativeSlope(families['log-linear'], [-0.9], 0.8)).toThrow(expect.objectContaining({ code: 'PARAMETER_COUNT' }));
  });
});

describe('operating characteristic', () => {
  // σ = √(.09² + .10² + .05² + .02²) = .145; the house's figures for a target of .70, derived there and here.
  const spread = { tripRwc: 0.7, sigma: Math.hypot(0.09, 0.1, 0.05, 0.02) };

  it.each([[0.85, 0.15], [0.7, 0.5], [0.6, 0.75]])('at RWC %p has tripped with chance %p', (rwc, p) => {
    expect(tripProbability(spread, rwc)).toBeCloseTo(p, 2);
  });

  it('splits into false and missed trips', () => {
    expect(falseTripChance(spread, 0.85)).toBeCloseTo(0.1503, 3);
    expect(missedTripChance(spread, 0.6) + tripProbability(spread, 0.6)).toBeCloseTo(1, 14);
  });

  it('asks for the target that keeps false trips at 5 %: .61, and .66 with irradiance known to 5 %', () => {
    const limit = { kind: 'false-trip' as const, rwc: 0.85, risk: 0.05 };
    expect(guardBandTarget(spread.sigma, limit)).toBeCloseTo(0.61, 2);
    expect(guardBandTarget(Math.hypot(0.09, 0.05, 0.05, 0.02), limit)).toBeCloseTo(0.66, 2);
    expect(missedTripChance({ tripRwc: guardBandTarget(0.1, { ...limit, kind: 'missed-trip' }), sigma: 0.1 }, 0.85)).toBeCloseTo(0.05, 12);
    expect(() => guardBandTarget(0.1, { ...limit, risk: 0 })).toThrow(expect.objectContaining({ code: 'RISK_OUT_OF_RANGE' }));
  });
});

describe('voteProbability', () => {
  const vote = { count: 5, needed: 3, tripRwc: 0.7 };
  const all = Math.hypot(0.09, 0.1, 0.05, 0.02);

  it('of three in five at RWC .85 is .027 with independent errors and .095 under one sky (the house\'s figures)', () => {
    expect(voteProbability({ ...vote, ownSigma: all, sharedSigma: 0 }, 0.85)).toBeCloseTo(0.027, 3);
    expect(voteProbability({ ...vote, ownSigma: Math.hypot(0.09, 0.05, 0.02), sharedSigma: 0.1 }, 0.85)).toBeCloseTo(0.095, 3);
  });

  it('of one unit is that unit, however its error is split', () => {
    fc.assert(fc.property(fc.double({ min: 0.01, max: 0.99, noNaN: true }), fc.double({ min: 0.3, max: 1, noNaN: true }), (part, rwc) => {
      const own = 0.145 * Math.sqrt(part);
      const p = voteProbability({ count: 1, needed: 1, tripRwc: 0.7, ownSigma: own, sharedSigma: Math.sqrt(0.145 ** 2 - own ** 2) }, rwc);
      expect(p).toBeCloseTo(tripProbability({ tripRwc: 0.7, sigma: 0.145 }, rwc), 7);
    }));
  });

  it('joins smoothly where the larger error changes sides, and is a step of the sky when units have none of their own', () => {
    const at = (ownSigma: number, sharedSigma: number) => voteProbability({ ...vote, ownSigma, sharedSigma }, 0.85);
    expect(at(0.1, 0.1 * (1 + 1e-12))).toBeCloseTo(at(0.1, 0.1), 10);
    expect(at(1e-9, 0.1)).toBeCloseTo(tripProbability({ tripRwc: 0.7, sigma: 0.1 }, 0.85), 8);
    expect(at(0.1, 1e-9)).toBeCloseTo(at(0.1, 0), 8);
  });

  it('agrees with simulated zones of five, three needed (100 000 zones each)', () => {
    const stream = createStream('votes', 0);
    for (const [own, shared] of [[0.05, 0.12], [0.12, 0.05]] as const) {
      let trips = 0;
      for (let zone = 0; zone < 100_000; zone += 1) {
        const sky = shared * stream.normal();
        let count = 0;
        for (let unit = 0; unit < 5; unit += 1) if (0.7 + sky + own * stream.normal() >= 0.8) count += 1;
        if (count >= 3) trips += 1;
      }
      const p = voteProbability({ ...vote, ownSigma: own, sharedSigma: shared }, 0.8);
      expect(Math.abs(trips / 100_000 - p)).toBeLessThan(4 * Math.sqrt((p * (1 - p)) / 100_000));
    }
  });

  it('comes out with the binomial sum by hand: 3 of 5 at one half is one half', () => {
    expect(voteProbability({ ...vote, ownSigma: 0.1, sharedSigma: 0 }, 0.7)).toBeCloseTo(0.5, 12);
    expect(() => voteProbability({ ...vote, needed: 6, ownSigma: 0.1, sharedSigma: 0 }, 0.7)).toThrow(expect.objectContaining({ code: 'NOT_A_VOTE' }));
  });
});

describe('certify', () => {
  it('goes from target to power to bias (by hand: e^−1.6 · 1000 nW; V = 10·(1 − 201.9/400)^1.5)', () => {
    const c = computed(request);
    expect(c.thresholdPowerNw).toBeCloseTo(1000 * Math.exp(-1.6), 9);
    expect(c.biasV).toBeCloseTo(10 * (1 - Math.exp(-1.6) * 2.5) ** 1.5, 9);
    expect(c.biasRoundedV).toBe(Number(c.biasV.toFixed(4)));
    expect(c.thresholdAtRoundedBiasNw).toBeCloseTo(thresholdPower(request.curve, c.biasRoundedV), 9);
    expect(c.tripRwc).toBeCloseTo(0.7, 4);
    expect(c.relativeSlope).toBeCloseTo(1, 8);
  });

  it('adds the four causes in quadrature and shares the variance out', () => {
    const c = computed({ ...request, calibration: { ...request.calibration, covariance: [[0.0004, 0], [0, 0]] }, guard: { ...request.guard, pullInDriftSdV: 0 } });
    expect(c.shares.map((s) => [s.cause, Number(s.sigmaRwc.toFixed(6))])).toEqual([['leaf', 0.09], ['irradiance', 0.1], ['device', 0.05], ['fit', 0.02]]);
    expect(c.sigma).toBeCloseTo(0.1449, 4);
    expect(c.shares.reduce((s, x) => s + x.share, 0)).toBeCloseTo(1, 12);
    expect(c.tripRwcInterval.high - c.tripRwcInterval.low).toBeCloseTo(2 * 1.959964 * c.sigma, 5);
  });

  it('spreads the trip less where light answers water more steeply', () => {
    const steep = computed({ ...request, calibration: { ...request.calibration, parameters: [-0.7, -1.25] } });
    expect(steep.shares.slice(0, 2).map((s) => Number(s.sigmaRwc.toFixed(8)))).toEqual([0.09 / 1.25, 0.1 / 1.25]);
  });

  it('takes the leaf spread in whichever form the calibration gives it', () => {
    const parameters = [-0.7, -1.25];
    const of = (betweenLeaf: CertificateRequest['calibration']['betweenLeaf']) => {
      const r = { ...request, calibration: { ...request.calibration, parameters, betweenLeaf } };
      return [computed(r).shares[0]!.sigmaRwc, certifyMonteCarlo(r, { seed: 1n, trials: 500 }).median] as const;
    };
    const [ln, lnMedian] = of({ kind: 'log-transmittance', sd: 0.09 });
    const [rwc, rwcMedian] = of({ kind: 'rwc', sd: 0.09 / 1.25 });
    expect(rwc).toBeCloseTo(ln, 12);
    expect(rwcMedian).toBeCloseTo(lnMedian, 12);
    // A random intercept alone is the same thing again.
    expect(of({ kind: 'parameters', covariance: [[0.09 ** 2, 0], [0, 0]] })[0]).toBeCloseTo(ln, 12);
  });

  it('rounds to the step of the source and moves the trip point with it', () => {
    const c = computed({ ...request, guard: { ...request.guard, biasSourceResolutionV: 0.25 } });
    expect(c.biasRoundedV * 4).toBe(Math.round(c.biasRoundedV * 4));
    expect(c.tripRwc).not.toBeCloseTo(0.7, 3);
    expect(Math.exp(-0.9 - c.tripRwc) * 1000).toBeCloseTo(c.thresholdAtRoundedBiasNw, 9);
  });

  it('widens the interval where a spread is known from few leaves (by hand: ν_eff = 7·(σ²/σ_leaf²)², leaf and fit as one)', () => {
    const known = computed(request);
    const few = computed({ ...request, calibration: { ...request.calibration, betweenLeaf: { kind: 'log-transmittance', sd: 0.09, degreesOfFreedom: 7 } } });
    expect(known.effectiveDegreesOfFreedom).toBe(Infinity);
    expect(few.effectiveDegreesOfFreedom).toBeCloseTo(7 * (few.sigma / 0.09) ** 4, 6);
    expect(few.sigma).toBe(known.sigma);
    const both = computed({
      ...request, calibration: { ...request.calibration, covariance: [[0.0009, 0], [0, 0]], degreesOfFreedom: 9, betweenLeaf: { kind: 'log-transmittance', sd: 0.09, degreesOfFreedom: 7 } },
    });
    expect(both.effectiveDegreesOfFreedom).toBeCloseTo((7 * both.sigma ** 4) / (0.09 ** 2 + 0.0009) ** 2, 6);
    expect(few.tripRwcInterval.high).toBeGreaterThan(known.tripRwcInterval.high);
  });

  it('covers the real trip 95 times of 100 though leaf spread and mean line come from eight leaves (1500 simulated units)', () => {
    const stream = createStream('certificate coverage', 0);
    let hits = 0;
    for (let unit = 0; unit < 1500; unit += 1) {
      const leaves = Array.from({ length: 8 }, () => 0.08 * stream.normal());
      const mean = leaves.reduce((s, l) => s + l, 0) / 8;
      const variance = leaves.reduce((s, l) => s + (l - mean) ** 2, 0) / 7;
      const c = computed({
        ...request,
        calibration: {
          ...request.calibration, parameters: [-0.9 + mean, -1], covariance: [[variance / 8, 0], [0, 0]], degreesOfFreedom: 7,
          betweenLeaf: { kind: 'log-transmittance', sd: Math.sqrt(variance), degreesOfFreedom: 7 },
        },
        lightReference: { powerNw: 1000, relativeSd: 0.03 },
        curve: { ...request.curve, tripScatter: 0.02 },
        guard: { ...request.guard, pullInDriftSdV: 0 },
      });
      // The real trip: this leaf's T(R)·E reaches the unit's real threshold.
      const power = c.thresholdAtRoundedBiasNw * Math.exp(0.02 * stream.normal());
      const trip = -0.9 + 0.08 * stream.normal() - Math.log(power / 1000 / Math.exp(0.03 * stream.normal()));
      if (c.tripRwcInterval.low <= trip && trip <= c.tripRwcInterval.high) hits += 1;
    }
    // SD of the count: 0.56 points. Taking the spread as known would give 92 %.
    expect(Math.abs(hits / 1500 - 0.95)).toBeLessThan(0.015);
  });

  it('does not depend on the units of power and voltage', () => {
    const base = computed({ ...request, curve: { ...request.curve, covariance: [[100, 0.1, 0], [0.1, 0.01, 0], [0, 0, 0.0001]] } });
    fc.assert(fc.property(fc.double({ min: 1e-3, max: 1e3, noNaN: true }), fc.double({ min: 1e-3, max: 1e3, noNaN: true }), (kp, kv) => {
      const scaled = computed({
        ...request,
        lightReference: { ...request.lightReference, powerNw: 1000 * kp },
        curve: {
          ...request.curve, powerAtZeroBiasNw: 400 * kp, pullInV: 10 * kv, testedBiasV: { min: 0, max: 9 * kv },
          covariance: [[100 * kp * kp, 0.1 * kp * kv, 0], [0.1 * kp * kv, 0.01 * kv * kv, 0], [0, 0, 0.0001]],
        },
        guard: { minMarginSigma: 5, biasSourceResolutionV: 0.0001 * kv, biasSourceSdV: 0, pullInDriftSdV: 0.05 * kv },
      });
      expect(scaled.sigma / base.sigma).toBeCloseTo(1, 7);
      expect(scaled.biasV / kv / base.biasV).toBeCloseTo(1, 9);
      expect(scaled.thresholdPowerNw / kp / base.thresholdPowerNw).toBeCloseTo(1, 9);
      expect(scaled.marginSigma / base.marginSigma).toBeCloseTo(1, 3);
    }));
  });

  it('says what is wrong with a certificate, all at once, each in a sentence', () => {
    const c = certify({
      ...request, targetRwc: 0.3,
      calibration: { ...request.calibration, betweenLeaf: { kind: 'unknown' } },
      curve: { ...request.curve, testedBiasV: { min: 5, max: 9 }, tripScatter: null, exponentAtBound: 'lower' },
      guard: { ...request.guard, holdV: 8 },
    });
    expect(c.findings.map((f) => [f.code, f.severity, f.overridable])).toEqual([
      ['TARGET_OUTSIDE_CALIBRATION', 'refusal', true],
      ['BIAS_BELOW_HOLD', 'refusal', false],
      ['BIAS_OUTSIDE_TESTED_RANGE', 'refusal', true],
      ['INTERVAL_LEAVES_CALIBRATION', 'warning', false],
      ['IRRADIANCE_DOMINATES', 'warning', false],
      ['EXPONENT_AT_BOUND', 'warning', false],
      ['LEAF_SPREAD_UNKNOWN', 'warning', false],
      ['TRIP_SCATTER_UNKNOWN', 'warning', false],
    ]);
    c.findings.forEach((f) => expect(f.sentence).toMatch(/^[A-Z].*\.$/));
    expect(c.outcome === 'computed' && c.issuable).toBe(false);
  });

  it('refuses a bias too near pull-in and a threshold no bias gives', () => {
    const near = certify({ ...request, lightReference: { ...request.lightReference, powerNw: 100 }, guard: { ...request.guard, pullInDriftSdV: 0.3 } });
    expect(near.findings.map((f) => f.code)).toContain('BIAS_TOO_NEAR_PULL_IN');
    const above = certify({ ...request, lightReference: { ...request.lightReference, powerNw: 4000 } });
    expect([above.outcome, above.findings[0]!.code, above.findings[0]!.overridable]).toEqual(['impossible', 'THRESHOLD_ABOVE_ZERO_BIAS_POWER', false]);
    const coarse = certify({ ...request, lightReference: { ...request.lightReference, powerNw: 20 }, guard: { ...request.guard, biasSourceResolutionV: 5 } });
    expect([coarse.outcome, coarse.findings[0]!.code]).toEqual(['impossible', 'BIAS_TOO_NEAR_PULL_IN']);
  });

  it('is issuable when nothing stands against it', () => {
    expect(computed(request).issuable).toBe(true);
  });

  it.each([
    [{ targetRwc: 70 }, 'targetRwc'], [{ targetRwc: NaN }, 'targetRwc'], [{ coverage: 95 }, 'coverage'],
    [{ lightReference: { powerNw: 0, relativeSd: 0.1 } }, 'lightReference.powerNw'],
    [{ lightReference: { powerNw: 1, relativeSd: -0.1 } }, 'lightReference.relativeSd'],
    [{ guard: { ...request.guard, biasSourceResolutionV: 0 } }, 'guard.biasSourceResolutionV'],
    [{ calibration: { ...request.calibration, rwcRange: { min: 1, max: 0.4 } } }, 'calibration.rwcRange'],
    [{ calibration: { ...request.calibration, covariance: [[1]] } }, 'calibration.covariance'],
  ])('refuses %j naming the field', (change, field) => {
    expect(() => certify({ ...request, ...change })).toThrow(expect.objectContaining({ field }));
  });

  it('finds the target for a wanted risk on this unit', () => {
    const { targetRwc, certificate } = targetForRisk({ ...request, falseTripRwc: 0.85 }, { kind: 'false-trip', rwc: 0.85, risk: 0.05 });
    expect(certificate.falseTripChance).toBeCloseTo(0.05, 3);
    expect(targetRwc).toBeLessThan(0.85 - 1.6 * 0.13);
    expect(() => targetForRisk(request, { kind: 'false-trip', rwc: 0.5, risk: 0.001 })).toThrow(expect.objectContaining({ code: 'NO_TARGET_FOR_RISK' }));
  });
});

describe('a light reference from a few days', () => {
  const onlyLight = (days: number): CertificateRequest => ({
    ...request,
    calibration: { ...request.calibration, betweenLeaf: { kind: 'log-transmittance', sd: 0 } },
    lightReference: { powerNw: 1000, relativeSd: 0.1, days },
    curve: { ...request.curve, tripScatter: 0 }, guard: { ...request.guard, pullInDriftSdV: 0 },
  });

  // Factors for one future observation, two-sided 95 %: Hahn, J. Amer. Statist. Assoc. 65 (1970) 1668 (two decimals from memory; t·√(1 + 1/n) of a printed t table).
  it.each([[4, 3.56], [5, 3.04], [10, 2.37], [20, 2.14]])('of %p days makes the interval %p of their SD to either side', (days, factor) => {
    const c = computed(onlyLight(days));
    expect(Math.abs((c.tripRwcInterval.high - c.tripRwc) / 0.1 - factor)).toBeLessThan(0.006);
    expect(c.effectiveDegreesOfFreedom).toBeCloseTo(days - 1, 9);
    const d = certifyMonteCarlo(onlyLight(days), { seed: 7n, trials: 20000 });
    // The end of a 95 % interval from 20 000 draws of t with 3 degrees of freedom is known to 2 % of its length.
    expect(Math.abs((d.interval.high - d.interval.low) / 0.2 / factor - 1)).toBeLessThan(0.06);
  });

  it('covers the next day 95 times of 100 where taking power and spread as known would cover 85 (2000 simulated sites, 5 days each)', () => {
    const stream = createStream('light reference coverage', 0);
    let [hits, naive] = [0, 0];
    for (let site = 0; site < 2000; site += 1) {
      const light = lightReferenceFromDays(Array.from({ length: 5 }, () => 1000 * Math.exp(0.08 * stream.normal())));
      const r = { ...onlyLight(5), lightReference: light };
      const trip = (power: number) => -0.9 - Math.log(power / (1000 * Math.exp(0.08 * nextDay)));
      const nextDay = stream.normal();
      const covers = (c: ComputedCertificate) => Math.abs(trip(c.thresholdAtRoundedBiasNw) - c.tripRwc) <= c.tripRwcInterval.high - c.tripRwc;
      if (covers(computed(r))) hits += 1;
      if (covers(computed({ ...r, lightReference: { powerNw: light.powerNw, relativeSd: light.relativeSd } }))) naive += 1;
    }
    // SD of the count: 0.49 points.
    expect(Math.abs(hits / 2000 - 0.95)).toBeLessThan(0.0147);
    expect(naive / 2000).toBeLessThan(0.88);
  });

  it('leaves a reference without days as it was, and lets a pooled spread bring its own degrees of freedom', () => {
    expect(spreadOfNextDay({ powerNw: 1, relativeSd: 0.1 })).toEqual({ relativeSd: 0.1, degreesOfFreedom: Infinity });
    expect(spreadOfNextDay({ powerNw: 1, relativeSd: 0.1, days: 4, degreesOfFreedom: 30 })).toEqual({ relativeSd: 0.1 * Math.sqrt(1.25), degreesOfFreedom: 30 });
  });

  it.each([[{ powerNw: 1, relativeSd: 0.1, days: 1 }, 'lightReference.days'], [{ powerNw: 1, relativeSd: 0.1, days: 2.5 }, 'lightReference.days'],
    [{ powerNw: 1, relativeSd: 0.1, days: NaN }, 'lightReference.days'], [{ powerNw: 1, relativeSd: 0.1, degreesOfFreedom: 0 }, 'lightReference.degreesOfFreedom']])('refuses %j', (lightReference, field) => {
    expect(() => certify({ ...request, lightReference })).toThrow(expect.objectContaining({ field }));
  });

  it('refuses one day, and a day without light', () => {
    expect(() => lightReferenceFromDays([5])).toThrow(expect.objectContaining({ code: 'TOO_FEW_DAYS' }));
    expect(() => lightReferenceFromDays([5, 0])).toThrow(expect.objectContaining({ field: 'powersNw[1]' }));
  });
});

describe('certifyMonteCarlo', () => {
  const uncertain: CertificateRequest = {
    ...request,
    calibration: {
      ...request.calibration, covariance: [[0.002, -0.0022], [-0.0022, 0.0026]],
      betweenLeaf: { kind: 'parameters', covariance: [[0.006, -0.003], [-0.003, 0.004]] },
    },
    curve: { ...request.curve, covariance: [[16, 0.02, 0], [0.02, 0.0004, 0], [0, 0, 0]] },
    guard: { ...request.guard, biasSourceSdV: 0.002, pullInDriftSdV: 0.01 },
  };
  const distribution = certifyMonteCarlo(uncertain, { seed: 11n, trials: 20000 });

  it('agrees with first order where spreads are small', () => {
    const c = computed(uncertain);
    const mean = distribution.tripRwc.reduce((s, r) => s + r, 0) / distribution.trials;
    const sd = Math.sqrt(distribution.tripRwc.reduce((s, r) => s + (r - mean) ** 2, 0) / distribution.trials);
    // 20 000 trials tell the mean to σ/141 and σ to σ/200; the rest is curvature, which first order leaves out.
    expect(Math.abs(mean - c.tripRwc)).toBeLessThan(0.05 * c.sigma);
    expect(Math.abs(sd / c.sigma - 1)).toBeLessThan(0.04);
    expect(distribution.interval.low).toBeCloseTo(c.tripRwcInterval.low, 1.5);
    expect(distribution.interval.high).toBeCloseTo(c.tripRwcInterval.high, 1.5);
    const { probability, standardError } = tripProbabilityFrom(distribution, 0.85);
    expect(Math.abs(probability - tripProbability(c, 0.85))).toBeLessThan(4 * standardError + 0.01);
  });

  it('gives Student\'s tails where spreads are known from few', () => {
    const few: CertificateRequest = {
      ...request, calibration: { ...request.calibration, betweenLeaf: { kind: 'log-transmittance', sd: 0.09, degreesOfFreedom: 5 } },
      lightReference: { powerNw: 1000, relativeSd: 0 }, curve: { ...request.curve, tripScatter: 0 }, guard: { ...request.guard, pullInDriftSdV: 0 },
    };
    const c = computed(few);
    const d = certifyMonteCarlo(few, { seed: 5n, trials: 20000 });
    // Only the leaf spreads: both are t with 5 degrees of freedom, 2.571·0.09; the end is told to about 0.003.
    expect(c.tripRwcInterval.high - c.tripRwc).toBeCloseTo(2.5705818 * 0.09, 6);
    expect(Math.abs(d.interval.high - c.tripRwcInterval.high)).toBeLessThan(0.012);
    expect(Math.abs(d.interval.low - c.tripRwcInterval.low)).toBeLessThan(0.012);
  });

  it('gives the same bytes for the same seed and others for another', () => {
    expect(certifyMonteCarlo(uncertain, { seed: 11n, trials: 500 }).tripRwc).toEqual(certifyMonteCarlo(uncertain, { seed: 11n, trials: 500 }).tripRwc);
    expect(certifyMonteCarlo(uncertain, { seed: 12n, trials: 500 }).tripRwc).not.toEqual(certifyMonteCarlo(uncertain, { seed: 11n, trials: 500 }).tripRwc);
  });

  it('counts units that trip in the dark as always, and light that never suffices as never', () => {
    const wild = certifyMonteCarlo({
      ...uncertain,
      calibration: { ...uncertain.calibration, law: families.exponential, parameters: [0.15, 0.3, -3], covariance: zero3, betweenLeaf: { kind: 'unknown' } },
      lightReference: { powerNw: 1000, relativeSd: 0.6 },
      guard: { ...uncertain.guard, pullInDriftSdV: 3 },
    }, { seed: 1n, trials: 5000 });
    expect(wild.alwaysTrips).toBeGreaterThan(0.01);
    expect(wild.neverTrips + wild.alwaysTrips).toBeLessThan(1);
    expect(wild.interval.high).toBe(Infinity);
  });

  it('refuses too few trials and an impossible certificate', () => {
    expect(() => certifyMonteCarlo(uncertain, { seed: 1n, trials: 10 })).toThrow(expect.objectContaining({ code: 'TOO_FEW_TRIALS' }));
    expect(() => certifyMonteCarlo({ ...uncertain, lightReference: { powerNw: 1e5, relativeSd: 0 } }, { seed: 1n, trials: 100 }))
      .toThrow(expect.objectContaining({ code: 'CERTIFICATE_IMPOSSIBLE' }));
  });
});
