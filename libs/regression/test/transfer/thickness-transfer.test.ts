import { fitFamily, inversePredict, transferByThickness, type CalibrationPoint, type TurgidDisc } from '#libs/regression';
import { leafTransmittance } from '#libs/optics';
import { codeOf } from '../support.js';

/** Transmittance of a model leaf at 1470 nm (generalised plate model, Jacquemoud & Baret 1990, published PROSPECT-D coefficients): the bench's stand-in. */
const modelLeaf = (ewtUm: number, structureN = 1.5): number => leafTransmittance({ ewtUm, lmaGm2: 40, structureN, wavelengthNm: 1470 });

const calibrationCrop: CalibrationPoint[] = Array.from({ length: 13 }, (_, i) => 1 - 0.05 * i).map((rwc) => ({ rwc, ewtUm: 180 * rwc, transmittance: modelLeaf(180 * rwc) }));
const onThickness = fitFamily('log-linear', calibrationCrop, { predictor: 'ewt' });

/** Discs of 4 cm² with this much water when turgid, 1 g/cm³, 40 g/m² of dry matter. */
const discsOf = (...ewtUm: readonly number[]): TurgidDisc[] =>
  ewtUm.map((um, i) => ({ leafId: `L${i}`, turgidMassMg: 16 + (um / 1e4) * 4 * 1000, dryMassMg: 16, areaCm2: 4, uTurgidMg: 0.1, uDryMg: 0.1, uAreaCm2: 0.01 }));
const dry = [0.5, 0.6, 0.7];

describe('a crop of other thickness', () => {
  test('masses and area give the thickness, its uncertainty and its spread (by hand)', () => {
    const { ewtTurgidUm, betweenLeavesUm, uEwtTurgidUm, leaves } = transferByThickness(onThickness, discsOf(240, 250, 260), { rwc: dry, structureSd: 0 });
    expect([ewtTurgidUm.toFixed(6), betweenLeavesUm.toFixed(6), leaves]).toEqual(['250.000000', '10.000000', 3]);
    expect(uEwtTurgidUm).toBeCloseTo(10 / Math.sqrt(3), 9);
  });

  test('is met within 2 % of its light by the model leaf, where its thickness was seen', () => {
    const { curve } = transferByThickness(onThickness, discsOf(250, 250), { rwc: dry, structureSd: 0 });
    curve.forEach(({ rwc, ewtUm, transmittance, extrapolated }) => {
      expect(ewtUm).toBeCloseTo(250 * rwc, 9);
      expect(Math.abs(Math.log(transmittance / modelLeaf(250 * rwc)))).toBeLessThan(0.02);
      expect(extrapolated).toBe(false);
    });
    expect(transferByThickness(onThickness, discsOf(250, 250), { rwc: [0.9], structureSd: 0 }).curve[0]!.extrapolated).toBe(true);
  });

  test('where a calibration on RWC reads a tenth more of turgid water as seven points of RWC (shared design figure, 6.9, derived)', () => {
    const onRwc = fitFamily('log-linear', calibrationCrop);
    const answer = inversePredict(onRwc, { transmittance: modelLeaf(0.8 * 198), readingUncertainty: 'exact' });
    const misread = answer.verdict === 'refused' ? NaN : 100 * (answer.estimate - 0.8);
    expect(Math.abs(misread - 6.9)).toBeLessThan(1.5);
    const [at] = transferByThickness(onThickness, discsOf(198, 198), { rwc: [0.8], structureSd: 0 }).curve;
    // Of the same leaf, by thickness: within a point along its curve.
    expect(Math.abs(Math.log(at!.transmittance / modelLeaf(0.8 * 198)))).toBeLessThan(0.015);
  });

  test('leaf structure is not seen in the masses: ten per cent of it move the light by eight points, which the stated SD covers', () => {
    const other = transferByThickness(onThickness, discsOf(240, 250, 260), { rwc: dry, structureSd: 0.08 });
    other.curve.forEach(({ rwc, transmittance, interval, parts }) => {
      const thicker = modelLeaf(250 * rwc, 1.65);
      expect(Math.abs(Math.log(transmittance / thicker))).toBeGreaterThan(0.05);
      expect(interval.lower).toBeLessThan(thicker);
      expect(interval.upper).toBeGreaterThan(thicker);
      expect(parts.structure).toBe(0.08);
    });
  });
});

test('uncertainties add as derived, a new leaf by its own thickness, shrinking discs by their area', () => {
  const request = { rwc: [0.6], structureSd: 0.05 };
  const [at] = transferByThickness(onThickness, discsOf(240, 250, 260), request).curve;
  const slope = onThickness.parameters[1]!;
  expect(at!.parts.thickness).toBeCloseTo(Math.abs(slope) * 0.6 * (10 / Math.sqrt(3)), 9);
  expect(at!.uLn).toBeCloseTo(Math.hypot(at!.parts.calibration, at!.parts.thickness, 0.05), 12);
  expect(at!.uLnNewLeaf).toBeCloseTo(Math.hypot(at!.uLn, slope * 0.6 * 10), 9);
  // Two degrees of freedom: t = 4.3027 (any printed table).
  expect(Math.log(at!.interval.upper / at!.transmittance)).toBeCloseTo(4.3027 * at!.uLn, 4);
  expect(at!.newLeafHalfWidthPoints).toBeCloseTo((100 * 4.3027 * at!.uLnNewLeaf) / Math.abs(slope * 250), 1);
  const [shrunk] = transferByThickness(onThickness, discsOf(240, 250, 260), { ...request, areaRatioAt: () => 0.9 }).curve;
  expect(shrunk!.ewtUm).toBeCloseTo((0.6 * 250) / 0.9, 9);
});

test('does not mind which curve carries it, the order of discs, nor two discs of one leaf', () => {
  const curved = fitFamily('exponential', calibrationCrop, { predictor: 'ewt' });
  const line = transferByThickness(onThickness, discsOf(240, 250, 260), { rwc: dry, structureSd: 0 });
  const bent = transferByThickness(curved, discsOf(240, 250, 260), { rwc: dry, structureSd: 0 });
  bent.curve.forEach((at, i) => expect(Math.abs(Math.log(at.transmittance / line.curve[i]!.transmittance))).toBeLessThan(0.03));
  expect(transferByThickness(onThickness, discsOf(240, 250, 260).reverse(), { rwc: dry, structureSd: 0 }).curve[1]!.uLn).toBeCloseTo(line.curve[1]!.uLn, 12);
  const twice = [...discsOf(240, 250, 260), ...discsOf(240, 250, 260)];
  expect(transferByThickness(onThickness, twice, { rwc: dry, structureSd: 0 })).toMatchObject({ leaves: 3, ewtTurgidUm: expect.closeTo(250, 9) });
});

test.each<[string, () => unknown]>([
  ['NOT_ON_THICKNESS', () => transferByThickness(fitFamily('log-linear', calibrationCrop), discsOf(250, 250), { rwc: dry, structureSd: 0 })],
  ['TOO_FEW_LEAVES', () => transferByThickness(onThickness, discsOf(250), { rwc: dry, structureSd: 0 })],
  ['TOO_FEW_LEAVES', () => transferByThickness(onThickness, [], { rwc: dry, structureSd: 0 })],
  ['NEGATIVE', () => transferByThickness(onThickness, discsOf(250, 250), { rwc: dry, structureSd: -0.1 })],
  ['NOT_FINITE', () => transferByThickness(onThickness, discsOf(250, 250), { rwc: [NaN], structureSd: 0 })],
  ['NOT_POSITIVE', () => transferByThickness(onThickness, discsOf(250, 250), { rwc: [0], structureSd: 0 })],
  ['NOT_A_FRACTION', () => transferByThickness(onThickness, discsOf(250, 250), { rwc: dry, structureSd: 0, level: 95 })],
  ['NOT_POSITIVE', () => transferByThickness(onThickness, discsOf(250, 250).map((disc) => ({ ...disc, areaCm2: 0 })), { rwc: dry, structureSd: 0 })],
  ['DRY_NOT_BELOW_FRESH', () => transferByThickness(onThickness, discsOf(250, 250).map((disc) => ({ ...disc, dryMassMg: 200 })), { rwc: dry, structureSd: 0 })],
  ['OUT_OF_CURVE', () => transferByThickness(fitFamily('linear', calibrationCrop, { predictor: 'ewt' }), discsOf(900, 900), { rwc: [1], structureSd: 0 })],
  ['NOT_CONVERGED', () => transferByThickness({ ...onThickness, convergence: { converged: false } }, discsOf(250, 250), { rwc: dry, structureSd: 0 })],
])('%s', (code, work) => {
  expect(codeOf(work)).toBe(code);
});
