import { median, round } from './statistics.mjs';

const LEAVES = 20;
const REPEATS = { 200: 60, 2000: 20 };

/** A calibration version computed from so many readings of 20 leaves, as fitCalibration does it. */
export async function run({ log }) {
  const { computeCalibration } = await import('../../dist/apps/api/src/modules/calibration/compute.js');
  const { createStream } = await import('#libs/numeric');
  return Object.entries(REPEATS).map(([count, repeats]) => {
    const points = simulate(createStream(20261125n, 41), Number(count));
    const fit = () => computeCalibration('LOG_LINEAR', points, []);
    const document = fit();
    // A fast wrong answer is no result: the truth lies within four standard errors.
    const slope = document.parameters.find(({ name }) => name === 'c');
    if (!(Math.abs(slope.value - TRUE_SLOPE) < 4 * slope.standardError)) throw new Error(`slope ${slope.value} ± ${slope.standardError}, put in ${TRUE_SLOPE}`);
    for (let i = 0; i < 5; i += 1) fit();
    const timesMs = Array.from({ length: repeats }, () => {
      const begun = performance.now();
      fit();
      return performance.now() - begun;
    });
    const result = { points: Number(count), leaves: LEAVES, medianMs: round(median(timesMs)) };
    log(`fit, ${count} points of ${LEAVES} leaves: ${result.medianMs} ms`);
    return result;
  });
}

const TRUE_SLOPE = -1.05;

function simulate(stream, count) {
  const perLeaf = count / LEAVES;
  return Array.from({ length: LEAVES }, (_, leaf) => {
    const height = 0.08 * stream.normal();
    const tilt = 0.06 * stream.normal();
    return Array.from({ length: perLeaf }, (_unused, k) => {
      const rwc = 1 - (0.5 * k) / (perLeaf - 1);
      return {
        rwcSeriesId: `series ${leaf}`, meterReadingId: `reading ${leaf} ${k}`, leafId: `leaf ${leaf}`, leafLabel: `L${leaf}`,
        rwc, uRwc: 0.004, transmittance: Math.exp(-1.9 + height + (TRUE_SLOPE + tilt) * (rwc - 1) + 0.01 * stream.normal()), uTransmittance: 0.001,
        used: true, exclusionReason: null, residual: null,
      };
    });
  }).flat();
}
