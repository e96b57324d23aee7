import {
  compareFamilies,
  fitFamily,
  fitWithAndWithoutExcluded,
  inversePredict,
  leaveOneGroupOut,
  residualsBy,
  residualsInOrder,
  type CalibrationPoint,
} from '#libs/regression';
import { codeOf, createStream } from '../support.js';

const SLOPE = -1;
const RWC = [1, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55];

/** Simulated leaves: ln T = −0.9 − RWC + leaf + noise; `thickness` moves leaves apart as water thickness does. */
function leaves(count: number, betweenSd: number, withinSd: number, seed: string): CalibrationPoint[] {
  const noise = createStream(seed, 0);
  return Array.from({ length: count }, (_, l) => {
    const shift = betweenSd * noise.normal();
    return RWC.map((rwc, i) => ({
      rwc,
      transmittance: Math.exp(-0.9 + SLOPE * rwc + shift + withinSd * noise.normal()),
      leafId: `leaf ${l}`,
      day: l % 2 === 0 ? 'Monday' : 'Tuesday',
      operator: 'A',
      order: 10 * l + i,
      turgidTransmittance: Math.exp(-0.9 + SLOPE + shift),
    }));
  }).flat();
}

describe('leaving leaves out', () => {
  const points = leaves(12, 0.08, 0.02, 'twelve leaves');

  test('gives the error of refitting by hand', () => {
    const errors = [...new Set(points.map((point) => point.leafId))].flatMap((leaf) => {
      const fit = fitFamily('log-linear', points.filter((point) => point.leafId !== leaf));
      return points
        .filter((point) => point.leafId === leaf)
        .map((point) => {
          const answer = inversePredict(fit, { transmittance: point.transmittance });
          return answer.verdict === 'refused' ? NaN : 100 * (answer.estimate - point.rwc);
        });
    });
    const rmse = Math.sqrt(errors.reduce((sum, e) => sum + e * e, 0) / errors.length);
    const left = leaveOneGroupOut('log-linear', points);
    expect(left.rmseRwcPoints).toBeCloseTo(rmse, 9);
    expect(left).toMatchObject({ groups: 12, pointsPredicted: 120, pointsWithoutAnswer: 0 });
  });

  test('shows what dividing by the turgid leaf buys, which plain residuals do not', () => {
    const plain = leaveOneGroupOut('log-linear', points).rmseRwcPoints;
    const ratio = leaveOneGroupOut('log-linear', points, { response: 'turgid-ratio' }).rmseRwcPoints;
    expect(plain).toBeGreaterThan(5);
    expect(ratio).toBeLessThan(plain / 2);
  });

  test('is in RWC points against water thickness too', () => {
    const thick = points.map((point) => ({ ...point, ewtUm: 180 * point.rwc }));
    expect(leaveOneGroupOut('log-linear', thick, { predictor: 'ewt' }).rmseRwcPoints).toBeCloseTo(leaveOneGroupOut('log-linear', thick).rmseRwcPoints, 9);
  });

  test('counts points that have no answer instead of hiding them', () => {
    const floor = points.map((point) => ({ ...point, transmittance: point.transmittance + 0.2 }));
    const odd = floor.map((point, i) => (i === 0 ? { ...point, transmittance: 0.1 } : point));
    const left = leaveOneGroupOut('exponential', odd);
    expect(left.pointsWithoutAnswer).toBeGreaterThan(0);
    expect(left.pointsPredicted + left.pointsWithoutAnswer).toBe(120);
  });

  test('refuses points without a leaf, or a single leaf', () => {
    expect(codeOf(() => leaveOneGroupOut('log-linear', points.map((point) => ({ ...point, leafId: undefined }))))).toBe('MISSING');
    expect(codeOf(() => leaveOneGroupOut('log-linear', points.slice(0, 10)))).toBe('TOO_FEW_GROUPS');
  });
});

describe('comparing families', () => {
  test('prefers the shape the points were made with, and lists what could not be fitted', () => {
    const points = leaves(6, 0, 0.003, 'no leaf differences');
    const table = compareFamilies(points, [
      { family: 'log-linear' },
      { family: 'linear' },
      { family: 'power' },
      { family: 'log-linear', options: { predictor: 'ewt' } },
    ]);
    const fitted = table.flatMap((row) => (row.kind === 'fitted' ? [row] : []));
    expect(fitted.map((row) => row.candidate.family)).toEqual(['log-linear', 'linear', 'power']);
    expect(fitted[0]!.deltaAicc).toBe(0);
    expect(fitted[0]!.akaikeWeight).toBeGreaterThan(0.999);
    expect(fitted[1]!.deltaAicc).toBeGreaterThan(10);
    expect(table[3]).toMatchObject({ kind: 'refused', code: 'MISSING' });
    const best = fitted[0]!.leaveOneLeafOut;
    expect('rmseRwcPoints' in best && best.rmseRwcPoints).toBeCloseTo(0.3, 0);
  });

  test('weights add up to one', () => {
    const weights = compareFamilies(leaves(4, 0.05, 0.01, 'four')).map((row) => (row.kind === 'fitted' ? (row.akaikeWeight ?? 0) : 0));
    expect(weights.reduce((sum, weight) => sum + weight, 0)).toBeCloseTo(1, 12);
  });
});

test('the fit with and without its exclusions, side by side', () => {
  const points = leaves(3, 0, 0.005, 'exclusions').map((point, i) =>
    i === 5 ? { ...point, transmittance: point.transmittance * 1.4, excludedBecause: 'lamp not warm' } : point,
  );
  const both = fitWithAndWithoutExcluded('log-linear', points);
  expect(both.withoutExcluded.pointCount).toBe(29);
  expect(both.withExcluded.pointCount).toBe(30);
  const { from, to } = both.withoutExcluded.range;
  const [aIn, cIn] = both.withExcluded.parameters as [number, number];
  const [aOut, cOut] = both.withoutExcluded.parameters as [number, number];
  const shifts = [from, to].map((x) => Math.abs((aOut + cOut * x - aIn) / cIn - x));
  expect(both.greatestShift).toBeCloseTo(Math.max(...shifts), 12);
});

describe('residuals in groups', () => {
  test('show leaves that differ, and a day that does not', () => {
    const points = leaves(8, 0.08, 0.01, 'grouped');
    const fit = fitFamily('log-linear', points);
    const byLeaf = residualsBy(fit, points, 'leafId');
    expect(byLeaf.groups).toHaveLength(8);
    expect(byLeaf.test!.pValue).toBeLessThan(1e-10);
    expect(byLeaf.groups.reduce((sum, group) => sum + group.count * group.meanResidual, 0)).toBeCloseTo(0, 10);
    expect(residualsBy(fit, points, 'operator').test).toBeNull();
    expect(codeOf(() => residualsBy(fit, points, 'plantId'))).toBe('MISSING');
  });

  test('their F is the one-way analysis of variance of NIST SiRstv', () => {
    // NIST StRD SiRstv, certified F 1.18046237440255E+00: readings as residuals, instruments as leaves.
    const readings = [
      [196.3052, 196.124, 196.189, 196.2569, 196.3403],
      [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
      [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
      [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
      [196.2119, 196.1051, 196.185, 196.0052, 196.209],
    ];
    const points = readings.flatMap((row, l) => row.map((_, i) => ({ rwc: l * 5 + i, transmittance: 1, leafId: `${l}` })));
    const fit = fitFamily('linear', points.map((point, i) => ({ ...point, transmittance: readings.flat()[i]! })));
    const asResiduals = { ...fit, points: fit.points.map((point, i) => ({ ...point, residual: readings.flat()[i]! })) };
    expect(residualsBy(asResiduals, points, 'leafId').test!.f).toBeCloseTo(1.18046237440255, 9);
  });

  test('a drift in the order of measuring shows', () => {
    const points = leaves(1, 0, 0.005, 'drift').map((point, i) => ({ ...point, order: (i * 7) % 10 }));
    const drifting = points.map((point) => ({ ...point, transmittance: point.transmittance * (1 + 0.02 * point.order) }));
    expect(residualsInOrder(fitFamily('log-linear', drifting), drifting).pValue).toBeLessThan(1e-4);
    expect(residualsInOrder(fitFamily('log-linear', drifting), drifting).durbinWatson).toBeLessThan(1);
    expect(residualsInOrder(fitFamily('log-linear', points), points).pValue).toBeGreaterThan(0.01);
  });
});
