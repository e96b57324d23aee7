import { rwcSeries } from '#libs/leaf-water';
import { createStream, regularizedBeta, type RandomStream } from '#libs/numeric';
import { fitFamily, leafIntervalAt, type TransferVerdict } from '#libs/regression';
import { demoScenario, drawLeaf, dryingRwc, trueDiscMasses, trueTransmittance, type CropScenario, type LeafPopulation } from '#libs/simulator';
import type { CalibrationDocument } from '../../apps/api/src/modules/calibration/calibration-document.js';
import { computeCalibration, fitPoints, readBack } from '../../apps/api/src/modules/calibration/compute.js';
import { lineOf, studyReadings } from '../../apps/api/src/modules/transfer/compute.js';
import type { Given } from '../../apps/api/src/modules/transfer/transfer-document.js';

/**
 * Four hundred labs whose truth is known, from true leaves (a plate model, no straight line) through noisy balances and meters to what
 * the server computes and freezes. What an interval or a verdict promises must come true at its stated rate.
 */
const LABS = 400;
const LEAVES = 8;
const RWC = 0.8;
const scenario = demoScenario('2026-06-30T17:00:00+02:00');
const [grapevine, pepper] = scenario.crops as [CropScenario, CropScenario];
const AREA_MM2 = Math.PI * (scenario.discDiameterMm / 2) ** 2;
/** Weighed and read so many minutes after turgor. */
const MINUTES = [2, 8, 15, 23, 32, 42, 54, 68, 84, 100];

type Points = CalibrationDocument['points'];

/** Leaves of a crop dried at a bench: weighed with blotting and repeatability, read with the meter's noise, turned into points as the server does. */
function driedPoints(crop: CropScenario, leaves: number, stream: RandomStream, label: string): Points {
  const { balance, rig } = scenario;
  return Array.from({ length: leaves }, (_, i) => {
    const leaf = drawLeaf(crop.population, stream);
    const { turgidMassMg, dryMassMg } = trueDiscMasses(leaf, AREA_MM2);
    const shown = (massMg: number): number => massMg + balance.repeatabilityMg * stream.normal();
    const truth = MINUTES.map((minutes) => dryingRwc(crop.drying, minutes));
    const { rwc } = rwcSeries({
      turgidMassMg: shown(turgidMassMg * (1 + balance.blottingRelativeSd * stream.normal())), dryMassMg: shown(dryMassMg), uTurgidMg: 0.3, uDryMg: 0.05,
      points: truth.map((value) => ({ freshMassMg: shown(dryMassMg + value * (turgidMassMg - dryMassMg)), uFreshMg: 0.02 })),
    });
    return truth.map((value, k) => ({
      rwcSeriesId: `${label} ${i}`, meterReadingId: `${label} ${i} ${k}`, leafId: `${label} ${i}`, leafLabel: `${label} ${i}`, rwc: rwc[k]!, uRwc: 0.005,
      transmittance: trueTransmittance(leaf, value, rig.wavelengthNm) * (1 + rig.meterRelativeNoise * stream.normal()), uTransmittance: 0.001, used: true, exclusionReason: null, residual: null,
    }));
  }).flat();
}

/** ln T of many true leaves at one RWC, sorted: what a mean and a share of all leaves really are. */
function allLeaves(population: LeafPopulation): number[] {
  const stream = createStream('all leaves', 0);
  return Array.from({ length: 20_000 }, () => Math.log(trueTransmittance(drawLeaf(population, stream), RWC, scenario.rig.wavelengthNm))).sort((a, b) => a - b);
}

/** Whether k of n can come from a rate: neither tail below one in two thousand. P(Bin ≤ k) = I_{1−p}(n − k, k + 1). */
function plausible(k: number, n: number, rate: number): boolean {
  const atMost = (count: number): number => (count >= n ? 1 : count < 0 ? 0 : regularizedBeta(1 - rate, n - count, count + 1));
  return atMost(k) > 0.0005 && 1 - atMost(k - 1) > 0.0005;
}

const naiveHolds = (points: Points, fresh: number): boolean => {
  const fit = fitFamily('log-linear', points.map(({ rwc, transmittance }) => ({ rwc, transmittance })));
  const [a, c] = fit.parameters as [number, number];
  const variance = fit.covariance[0]![0]! + 2 * RWC * fit.covariance[0]![1]! + RWC ** 2 * fit.covariance[1]![1]!;
  return Math.abs(fresh - a - c * RWC) < 2 * Math.sqrt(variance);
};

describe(`${LABS} simulated labs with ${LEAVES} leaves each`, () => {
  const all = allLeaves(grapevine.population);
  const mean = all.reduce((sum, value) => sum + value, 0) / all.length;
  const below = (value: number): number => {
    let [low, high] = [0, all.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (all[middle]! < value) low = middle + 1;
      else high = middle;
    }
    return low / all.length;
  };
  const held = { mean: 0, newLeaf: 0, readBack: 0, tolerance: 0, naive: 0 };
  for (let lab = 0; lab < LABS; lab += 1) {
    const stream = createStream('labs', lab);
    const points = driedPoints(grapevine, LEAVES, stream, 'L');
    const document = computeCalibration('LOG_LINEAR', points, []);
    // The frozen curve as it is drawn, read at the RWC by straight line between two of its forty steps.
    const step = document.curve.findIndex(({ rwc }) => rwc >= RWC);
    const [before, after] = [document.curve[step - 1]!, document.curve[step]!];
    const share = (RWC - before.rwc) / (after.rwc - before.rwc);
    const at = (name: 'meanLow' | 'meanHigh' | 'newLeafLow' | 'newLeafHigh'): number => Math.log(before[name]! + share * (after[name]! - before[name]!));
    if (at('meanLow') <= mean && mean <= at('meanHigh')) held.mean += 1;
    const fresh = trueTransmittance(drawLeaf(grapevine.population, stream), RWC, scenario.rig.wavelengthNm) * (1 + scenario.rig.meterRelativeNoise * stream.normal());
    if (at('newLeafLow') <= Math.log(fresh) && Math.log(fresh) <= at('newLeafHigh')) held.newLeaf += 1;
    const read = readBack('LOG_LINEAR', document, fresh, 0.95);
    if ((read.newLeafLow ?? -1) <= RWC && RWC <= (read.newLeafHigh ?? 9)) held.readBack += 1;
    const fit = fitPoints('LOG_LINEAR', points);
    if (fit.kind === 'leaf line') {
      const { response } = leafIntervalAt(fit.line, 'tolerance', RWC, { share: 0.95, confidence: 0.95 });
      if (below(response.upper) - below(response.lower) >= 0.95) held.tolerance += 1;
    }
    if (naiveHolds(points, Math.log(fresh))) held.naive += 1;
  }

  it.each([['mean line', 'mean'], ['one new leaf', 'newLeaf'], ['RWC read back for one new leaf', 'readBack'], ['tolerance: 95 % of all leaves', 'tolerance']] as const)('%s, 95 %%: comes true at its stated rate', (_, name) => {
    expect([held[name], plausible(held[name], LABS, 0.95)]).toEqual([held[name], true]);
  });

  it('counting readings as independent would have kept its promise hardly ever', () => {
    expect(held.naive / LABS).toBeLessThan(0.4);
  });
});

describe('telling crops apart', () => {
  const STUDIES = 150;
  const GIVEN_LEAVES = 24;
  const OWN_LEAVES = 16;
  const MARGIN_POINTS = 6;
  const REQUEST = { marginPoints: MARGIN_POINTS, rwcRange: { from: 0.65, to: 0.95 }, alpha: 0.05, level: 0.95, leafEffects: 'HEIGHT', dryingRunIds: [] } as const;

  /** Each study has a given calibration of its own: what is stated is over everything that varies. */
  function verdicts(crop: CropScenario, name: string): Record<TransferVerdict, number> {
    const found: Record<TransferVerdict, number> = { 'holds': 0, 'holds with offset': 0, 'does not hold': 0, 'not enough data': 0 };
    for (let study = 0; study < STUDIES; study += 1) {
      const stream = createStream(name, study);
      // Of a version only its points, its leaf effects and their number are asked for.
      const document = { points: driedPoints(grapevine, GIVEN_LEAVES, stream, 'G'), leafEffects: 'HEIGHT', leafCount: GIVEN_LEAVES } as CalibrationDocument;
      const given: Given = { kind: 'calibration_version', id: 'given', label: 'given', crop: 'Grapevine', rig: 'rig', family: 'LOG_LINEAR', line: lineOf('LOG_LINEAR', document) };
      found[studyReadings(given, driedPoints(crop, OWN_LEAVES, stream, 'O'), REQUEST, []).outcome.verdict] += 1;
    }
    return found;
  }

  /** 6.7 % more water in every leaf: with a thousand leaves and no noise the given line reads 6.0 points too much at RWC 95 %, the margin. */
  const atTheMargin: CropScenario = { ...grapevine, population: { ...grapevine.population, ewtTurgidUm: 1.067 * grapevine.population.ewtTurgidUm } };

  it('the same crop is found to hold in 80 of 100 studies or more', () => {
    const found = verdicts(grapevine, 'same crop');
    expect({ ...found, enough: found.holds >= 0.8 * STUDIES }).toEqual({ ...found, enough: true });
    expect(found['does not hold']).toBeLessThan(0.05 * STUDIES);
  });

  it('another crop is found not to hold as it stands in 99 of 100 studies, and to differ in 80 or more', () => {
    const found = verdicts(pepper, 'other crop');
    expect(found.holds).toBeLessThanOrEqual(0.01 * STUDIES);
    expect({ ...found, enough: found['does not hold'] + found['holds with offset'] >= 0.8 * STUDIES }).toEqual({ ...found, enough: true });
  });

  it('a crop off by the margin is called the same in no more than 5 of 100 studies', () => {
    const found = verdicts(atTheMargin, 'at the margin');
    expect({ ...found, few: found.holds < 0.05 * STUDIES || plausible(found.holds, STUDIES, 0.05) }).toEqual({ ...found, few: true });
  });
});
