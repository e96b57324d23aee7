import { rwcAtReadings } from '#libs/leaf-water';
import { createStream } from '#libs/numeric';
import { transmittanceRun } from '#libs/optics';
import { families, fitLeafLine, LeafReading } from '#libs/regression';
import { CertificateRequest, ComputedCertificate, certify, findContactJumps, fitBiasThresholdCurve, summariseSweeps, thresholdPower } from '#libs/switch-device';
import { LabEvent, SimulatedLab, TrueLeaf, demoScenario, drawLeaf, simulateField, simulateLab, trueTransmittance } from '../src/index.js';

/** The whole chain from balance lines to certificates by the libraries, as a server would walk it, and what was true against what it says. */

const kindOf = <K extends LabEvent['kind']>(events: readonly LabEvent[], kind: K) => events.filter((e): e is Extract<LabEvent, { kind: K }> => e.kind === kind);
const at = (text: string): number => Date.parse(text);

interface Walked { readonly readings: readonly (LeafReading & { readonly key: string; readonly uRwc: number; readonly uTransmittance: number })[] }

/** Readings of one run with the RWC interpolated from its weighings, amendments in place of what they amend. */
function walkRun(lab: SimulatedLab, runKey: string): Walked['readings'] {
  const { rig, balance } = lab.scenario;
  const amended = new Map(kindOf(lab.events, 'weighing-amendment').map((a) => [a.amendsKey, a]));
  const weighings = kindOf(lab.events, 'weighing').map((w) => amended.get(w.key) ?? w);
  const uMassMg = Math.hypot(balance.repeatabilityMg, balance.resolutionMg / Math.sqrt(6));
  const run = kindOf(lab.events, 'drying-run-open').find((r) => r.key === runKey)!;
  const light = kindOf(lab.events, 'meter-reading').filter((r) => r.dryingRunKey === runKey);
  const power = (r: (typeof light)[number]) => ({ powerNw: Number(r.powerText), uPowerNw: Math.hypot(rig.meterNoiseNw, rig.meterRelativeNoise * Number(r.powerText)), atMs: at(r.observedAt) });
  const darks = light.filter((r) => r.lightPath === 'dark').map(power);
  const bracket = {
    references: light.filter((r) => r.lightPath === 'reference').map(power),
    dark: { powerNw: darks.reduce((s, d) => s + d.powerNw, 0) / darks.length, uPowerNw: rig.meterNoiseNw / Math.sqrt(darks.length) },
    tauReference: rig.diffuserTransmittance, uTauReference: rig.uDiffuserTransmittance,
  };
  return run.discKeys.flatMap((discKey) => {
    const mine = weighings.filter((w) => w.discKey === discKey);
    const mass = (state: string): number => Number(mine.filter((w) => w.state === state).at(-1)!.massText);
    const read = light.filter((r) => r.discKey === discKey);
    const rwc = rwcAtReadings({
      weighings: mine.filter((w) => w.state === 'drying').map((w) => ({ massMg: Number(w.massText), uMassMg, atMs: at(w.observedAt) })),
      turgidMassMg: mass('turgid'), uTurgidMg: Math.hypot(uMassMg, balance.blottingRelativeSd * mass('turgid')), dryMassMg: mass('dry'), uDryMg: uMassMg,
      readingsAtMs: read.map((r) => at(r.observedAt)),
    });
    const optics = transmittanceRun(bracket, read.map(power)).readings;
    return read.map((r, i) => ({
      key: r.key, leafId: lab.truth.discs[discKey]!.leafKey, rwc: rwc.rwc[i]!, uRwc: rwc.u[i]!, transmittance: optics[i]!.transmittance, uTransmittance: optics[i]!.u,
    }));
  });
}

/** Calibration of a crop with leaf effects, in the form a certificate wants. */
function calibrate(lab: SimulatedLab, cropKey: string): CertificateRequest['calibration'] {
  const fit = kindOf(lab.events, 'calibration-fit').find((c) => c.key === `calibration-version/${cropKey}`)!;
  const readings = fit.dryingRunKeys.flatMap((key) => walkRun(lab, key));
  const line = fitLeafLine(readings, { method: 'REML', leafEffect: 'intercept-and-slope', responseScale: 'ln-transmittance' });
  const leaf = line.fit.levels.find((level) => level.name === 'leaf')!;
  return {
    law: families['log-linear'], parameters: [line.intercept, line.slope], covariance: line.fit.fixedCovariance, degreesOfFreedom: line.leafCount - 1,
    betweenLeaf: { kind: 'parameters', covariance: leaf.covariance, degreesOfFreedom: line.leafCount - 1 },
    rwcRange: { min: line.rwcRange.from, max: line.rwcRange.to },
  };
}

/** Curve of a unit from its trip tests, with its scatter. */
function characterise(lab: SimulatedLab, unitKey: string): CertificateRequest['curve'] {
  const tests = kindOf(lab.events, 'trip-test').filter((t) => t.deviceUnitKey === unitKey);
  // Scatter grows with power, so each test states its own.
  const fit = fitBiasThresholdCurve(tests.map((t) => ({
    biasV: Number(t.biasV), tripPowerNw: Number(t.tripPowerText), uNw: lab.scenario.devices.tripScatter * Number(t.tripPowerText),
  })), { exponent: 'free' });
  return { ...fit, tripScatter: fit.relativeResidualSd, degreesOfFreedom: fit.degreesOfFreedom };
}

function certificatesOf(lab: SimulatedLab): ReadonlyMap<string, ReturnType<typeof certify>> {
  const calibrations = new Map(lab.scenario.crops.map((crop) => [`calibration-version/${crop.key}`, calibrate(lab, crop.key)]));
  return new Map(kindOf(lab.events, 'certificate').map((asked) => {
    const light = kindOf(lab.events, 'light-reference').find((l) => l.key === asked.lightReferenceKey)!;
    return [asked.key, certify({
      calibration: calibrations.get(asked.calibrationVersionKey)!,
      // One more day beside the ten measured: √(1 + 1/10), known with nine degrees of freedom.
      lightReference: { powerNw: Number(light.powerText), relativeSd: Number(light.relativeSd) * Math.sqrt(1 + 1 / light.series.length), degreesOfFreedom: light.series.length - 1 },
      curve: characterise(lab, asked.deviceUnitKey),
      targetRwc: asked.targetRwc,
      guard: { minMarginSigma: 5, biasSourceResolutionV: asked.biasStepV, biasSourceSdV: lab.scenario.devices.biasSourceSdV, pullInDriftSdV: 0 },
      coverage: 0.95,
    })];
  }));
}

const lab = simulateLab('demo', demoScenario('2026-06-30T17:00:00+02:00'));

describe('from balance lines to the truth behind them', () => {
  const runs = kindOf(lab.events, 'drying-run-open').map((r) => r.key);
  const walked = runs.flatMap((key) => walkRun(lab, key));

  it('recovers RWC at every reading as well as it says', () => {
    const z = walked.map((r) => (r.rwc - lab.truth.readings[r.key]!.rwc) / r.uRwc);
    // Readings of a disc share its turgid mass: 14 discs, so the mean square of z may wander by a factor of two.
    const meanSquare = z.reduce((s, v) => s + v * v, 0) / z.length;
    expect(meanSquare).toBeGreaterThan(0.3);
    expect(meanSquare).toBeLessThan(2.2);
    expect(Math.max(...walked.map((r) => Math.abs(r.rwc - lab.truth.readings[r.key]!.rwc)))).toBeLessThan(0.015);
  });

  it('recovers transmittance at every reading as well as it says', () => {
    const z = walked.map((r) => (r.transmittance - lab.truth.readings[r.key]!.transmittance) / r.uTransmittance);
    const meanSquare = z.reduce((s, v) => s + v * v, 0) / z.length;
    // The diffuser's τ is exact in the simulation while its uncertainty is stated, so the mean square stays well below one.
    expect(meanSquare).toBeGreaterThan(0.15);
    expect(meanSquare).toBeLessThan(1.2);
  });

  it('would not recover RWC had the mistake stayed', () => {
    const stayed = { ...lab, events: lab.events.filter((e) => e.kind !== 'weighing-amendment') };
    const off = runs.flatMap((key) => walkRun(stayed, key)).map((r) => Math.abs(r.rwc - lab.truth.readings[r.key]!.rwc));
    expect(Math.max(...off)).toBeGreaterThan(0.03);
  });

  it('finds each unit\'s pull-in inside its step and its curve inside its uncertainty', () => {
    for (const [unitKey, truth] of Object.entries(lab.truth.units)) {
      const jumps = kindOf(lab.events, 'bias-sweep').filter((s) => s.deviceUnitKey === unitKey)
        .flatMap((s) => findContactJumps(s.steps.map(([biasV, currentA]) => ({ biasV, currentA })), { currentResolutionA: 1e-13, minDecades: 2 }));
      for (const { meanV } of summariseSweeps(jumps).pullIn) expect(Math.abs(meanV - truth.pullInV)).toBeLessThanOrEqual(0.1 + 1e-9);
      const curve = characterise(lab, unitKey);
      expect(Math.abs(curve.powerAtZeroBiasNw - truth.powerAtZeroBiasNw)).toBeLessThan(4 * Math.sqrt(curve.covariance[0]![0]!));
      expect(Math.abs(curve.exponent - truth.exponent)).toBeLessThan(4 * Math.sqrt(curve.covariance[2]![2]!) + (curve.exponentAtBound === null ? 0 : 0.1));
    }
  });

  it('gives the demo six certificates that can be issued', () => {
    for (const certificate of certificatesOf(lab).values()) {
      expect(certificate.findings.filter((f) => f.severity === 'refusal')).toEqual([]);
    }
  });
});

describe('certificates against the truth', () => {
  const base = demoScenario('2026-06-30T17:00:00+02:00');
  // Nobody waters, so that no trip is missing from the count; the field dries through the whole range. A slower rhythm spares
  // readings, which matter little beside leaves.
  const dry = { ...base, rhythmMin: 15, cycles: 12, crops: base.crops.map((crop) => ({ ...crop, irrigateAtTrips: 99, fieldRwc: { ...crop.fieldRwc, fallPerDay: 0.06 } })) };
  const labs = Array.from({ length: 80 }, (_, seed) => {
    const simulated = simulateLab(`coverage ${seed}`, dry);
    return { simulated, certificates: certificatesOf(simulated) };
  });
  const covers = (c: ComputedCertificate, rwc: number): boolean => c.tripRwcInterval.low <= rwc && rwc <= c.tripRwcInterval.high;

  it('state 95 % intervals that hold 95 % of new leaves under new skies (160 calibrations, 480 units, 24 000 trips)', () => {
    const skies = new Map(base.crops.map((crop) => [crop.key, labs.flatMap(({ simulated }) => (
      kindOf(simulated.events, 'light-reference').filter((l) => l.key === `light/${crop.key}`).flatMap((l) => l.series.map((s) => Number(s.powerText)))))]));
    const stream = createStream('new leaves', 0);
    let [inside, total] = [0, 0];
    for (const { simulated, certificates } of labs) {
      kindOf(simulated.events, 'certificate').forEach((asked) => {
        const certificate = certificates.get(asked.key)!;
        if (certificate.outcome !== 'computed') throw new Error(`${asked.key} could not be computed`);
        const crop = base.crops.find((c) => asked.calibrationVersionKey.endsWith(c.key))!;
        const atBias = thresholdPower(simulated.truth.units[asked.deviceUnitKey]!, certificate.biasRoundedV);
        for (let leaf = 0; leaf < 50; leaf += 1) {
          const sky = skies.get(crop.key)![Math.floor(stream.uniform() * 800)]!;
          const needed = (atBias * Math.exp(base.devices.tripScatter * stream.normal())) / sky;
          const rwc = trueRwcAt(drawLeaf(crop.population, stream), needed, base.rig.wavelengthNm);
          if (covers(certificate, rwc)) inside += 1;
          total += 1;
        }
      });
    }
    // Trips of one calibration share its leaves: 160 calibrations tell the mean coverage to about half a point.
    expect(total).toBe(24_000);
    expect(Math.abs(inside / total - 0.95)).toBeLessThan(0.02);
  });

  it('hold in the simulated field too, but for the half day by which a noon comes late', () => {
    const z: number[] = [];
    for (const { simulated, certificates } of labs) {
      const biases = Object.fromEntries([...certificates].map(([key, c]) => [key, (c as ComputedCertificate).biasRoundedV]));
      for (const [key, truth] of Object.entries(simulateField(simulated, biases).truth.installations)) {
        const certificate = certificates.get(key.replace('installation', 'certificate')) as ComputedCertificate;
        if (truth.rwcAtTrip !== null) z.push((truth.rwcAtTrip - certificate.tripRwc) / certificate.sigma);
      }
    }
    const mean = z.reduce((s, v) => s + v, 0) / z.length;
    const sd = Math.sqrt(z.reduce((s, v) => s + (v - mean) ** 2, 0) / (z.length - 1));
    expect(z.length).toBeGreaterThan(450);
    // A leaf that falls 6 points from noon to noon trips 3 points late on the mean, about 0.4 of these standard deviations.
    expect(mean).toBeGreaterThan(-0.6);
    expect(mean).toBeLessThan(0);
    expect(sd).toBeGreaterThan(0.8);
    expect(sd).toBeLessThan(1.2);
  });
});

/** The RWC at which a true leaf lets the needed part through, by bisection; transmittance falls with RWC. */
function trueRwcAt(leaf: TrueLeaf, needed: number, wavelengthNm: number): number {
  let [low, high] = [0, 3];
  for (let i = 0; i < 40; i += 1) {
    const middle = (low + high) / 2;
    if (trueTransmittance(leaf, middle, wavelengthNm) > needed) low = middle;
    else high = middle;
  }
  return low;
}
