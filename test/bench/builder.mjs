import { median, round } from './statistics.mjs';

const LEAVES = 200;
const READINGS = 30;
const REPEATS = 10;
const TRUE_SLOPE = -1.05;

/**
 * The builder's first answer: everything it draws of 200 leaves with 30 readings each, computed in a thread as the server
 * does it, and as the JSON that goes to the page. The page's own drawing is measured by "page".
 */
export async function run({ log }) {
  const { Threads } = await import('../../dist/apps/api/src/platform/jobs/threads.js');
  const { createStream } = await import('#libs/numeric');
  const threads = new Threads();
  const task = new URL('../../dist/apps/api/src/modules/calibration/study.task.js', import.meta.url);
  const points = simulate(createStream(20261126n, 7));
  const inputOf = (family) => ({ points, family, leafEffects: 'AUTO', level: 0.95, share: 0.95, confidence: 0.95, atRwc: 0.75, wantedHalfWidthPoints: null });
  const study = async (family) => JSON.stringify(await threads.run(task, { compare: false, input: inputOf(family) }));
  const results = [];
  try {
    for (const family of ['LOG_LINEAR', 'EXPONENTIAL']) {
      const { figures } = JSON.parse(await study(family));
      // A fast wrong answer is no result: the truth, put in by the simulation, as a slope of ln T or of T itself.
      const slope = family === 'LOG_LINEAR' ? figures.slope : figures.slope / Math.exp(-1.9 + TRUE_SLOPE * (0.75 - 1));
      if (Math.abs(slope - TRUE_SLOPE) > 0.03) throw new Error(`${family}: slope ${slope}, put in ${TRUE_SLOPE}`);
      const timesMs = [];
      for (let i = 0; i < REPEATS; i += 1) {
        const begun = performance.now();
        await study(family);
        timesMs.push(performance.now() - begun);
      }
      const result = { family, leaves: LEAVES, readings: LEAVES * READINGS, medianMs: round(median(timesMs)) };
      log(`builder, ${family} study of ${result.readings} readings of ${LEAVES} leaves: ${result.medianMs} ms`);
      results.push(result);
    }
    return results;
  } finally {
    await threads.close();
  }
}

function simulate(stream) {
  return Array.from({ length: LEAVES }, (_, leaf) => {
    const height = 0.08 * stream.normal();
    const tilt = 0.06 * stream.normal();
    return Array.from({ length: READINGS }, (_unused, k) => {
      const rwc = 1 - (0.5 * k) / (READINGS - 1);
      return {
        rwcSeriesId: `series ${leaf}`, meterReadingId: `reading ${leaf} ${k}`, leafId: `leaf ${leaf}`, leafLabel: `L${leaf}`, rwc, uRwc: 0.004,
        transmittance: Math.exp(-1.9 + height + (TRUE_SLOPE + tilt) * (rwc - 1) + 0.01 * stream.normal()), uTransmittance: 0.001, turgidTransmittance: null,
        day: `2026-06-${String(1 + (leaf % 20)).padStart(2, '0')}`, operator: leaf % 2 ? 'A' : 'B', order: leaf * READINGS + k + 1, used: true, exclusionReason: null,
      };
    });
  }).flat();
}
