import { median, round } from './statistics.mjs';

const GIVEN_LEAVES = 100;
const OWN_LEAVES = 400;
const READINGS = 25;
const REPEATS = 5;
const TRUE_SHIFT_POINTS = -4;

/** A transfer study of ten thousand own readings against a calibration of two and a half thousand, computed in a thread as the server does it. */
export async function run({ log }) {
  const { Threads } = await import('../../dist/apps/api/src/platform/jobs/threads.js');
  const { lineOf } = await import('../../dist/apps/api/src/modules/transfer/compute.js');
  const { createStream } = await import('#libs/numeric');
  const threads = new Threads();
  const task = new URL('../../dist/apps/api/src/modules/transfer/transfer.task.js', import.meta.url);
  const stream = createStream(20261126n, 9);
  const given = points(stream, GIVEN_LEAVES, 'given', 0);
  const own = points(stream, OWN_LEAVES, 'own', TRUE_SHIFT_POINTS);
  const request = { marginPoints: 5, rwcRange: null, alpha: 0.05, level: 0.95, leafEffects: 'AUTO', dryingRunIds: [] };
  const study = async () => {
    // What the server does before it, too: the line of the given version anew from its points.
    const line = lineOf('LOG_LINEAR', { points: given, leafCount: GIVEN_LEAVES });
    return JSON.stringify(await threads.run(task, { given: { kind: 'calibration_version', id: 'given', label: 'given', crop: 'a', rig: 'b', family: 'LOG_LINEAR', line }, own, request, remarks: [] }));
  };
  try {
    const { outcome } = JSON.parse(await study());
    // A fast wrong answer is no result.
    if (Math.abs(outcome.comparison.offsetPoints - TRUE_SHIFT_POINTS) > 3) throw new Error(`offset ${outcome.comparison.offsetPoints}, put in ${TRUE_SHIFT_POINTS}`);
    const timesMs = [];
    for (let i = 0; i < REPEATS; i += 1) {
      const begun = performance.now();
      await study();
      timesMs.push(performance.now() - begun);
    }
    const result = { readings: own.length, leaves: OWN_LEAVES, medianMs: round(median(timesMs)) };
    log(`transfer, study of ${result.readings} readings of ${OWN_LEAVES} leaves: ${result.medianMs} ms`);
    return [result];
  } finally {
    await threads.close();
  }
}

function points(stream, leaves, name, shiftPoints) {
  return Array.from({ length: leaves }, (_, leaf) => {
    const height = 0.06 * stream.normal();
    const tilt = 0.05 * stream.normal();
    return Array.from({ length: READINGS }, (_unused, k) => {
      const rwc = 1 - (0.45 * k) / (READINGS - 1);
      return {
        rwcSeriesId: `${name} ${leaf}`, meterReadingId: `${name} ${leaf} ${k}`, leafId: `${name} ${leaf}`, leafLabel: `${name} ${leaf}`, rwc, uRwc: 0.004,
        transmittance: Math.exp(-1.9 - shiftPoints / 100 + height + (-1 + tilt) * (rwc - 1) + 0.01 * stream.normal()), uTransmittance: 0.001, used: true, exclusionReason: null, residual: null,
      };
    });
  }).flat();
}
