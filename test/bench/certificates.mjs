import { v7 as uuidv7 } from 'uuid';
import { median, quantile, round } from './statistics.mjs';
import { ask, record, signIn, withProgram } from './server.mjs';

const UNITS = 100;
const PULL_IN_V = 14;
const PAUSE_MS = 100;

/**
 * Certificates for a lot of a hundred units, each with its own sweep, trip tests and curve: how long the job takes, and how long
 * somebody else's question waits meanwhile, beside how long it takes when nothing else is done.
 */
export async function run({ log }) {
  const { demoSignIns } = await import('../../dist/apps/cli/src/demo/ensure-demo.js');
  const { email, password } = demoSignIns().find(({ role }) => role === 'field engineer');
  return withProgram({ demo: true }, async ({ url }) => {
    const cookie = await signIn(url, email, password);
    const deviceUnitIds = await lotOf(url, cookie);
    const { calibrations, lightReferences } = await ask(url, cookie, '{ calibrations { versions { id state stale } } lightReferences { id } }');
    const version = calibrations.flatMap(({ versions }) => versions).find(({ state, stale }) => state === 'APPROVED' && !stale);
    const question = async () => {
      const begun = performance.now();
      await ask(url, cookie, '{ deviceUnits(first: 20) { nodes { id label state } } }');
      return performance.now() - begun;
    };
    const quiet = [];
    for (let i = 0; i < 20; i += 1) quiet.push(await question());
    const id = uuidv7();
    const begun = performance.now();
    await record(url, cookie, 'issueCertificates', 'IssueCertificatesInput', {
      id, deviceUnitIds, calibrationVersionId: version.id, lightReferenceId: lightReferences[0].id, targetRwc: 0.8, targetBasis: 'Bench', validUntil: new Date(Date.now() + 90 * 86_400_000).toISOString(), falseTripRwc: 0.92, missedTripRwc: 0.7,
    });
    const busy = [];
    for (;;) {
      const { job } = await ask(url, cookie, 'query ($id: UUID!) { job(id: $id) { state error } }', { id });
      if (job.state === 'FAILED') throw new Error(job.error);
      if (job.state === 'DONE') break;
      busy.push(await question());
      await new Promise((resolve) => { setTimeout(resolve, PAUSE_MS); });
    }
    const seconds = (performance.now() - begun) / 1000;
    const { certificateBatch: { outcomes } } = await ask(url, cookie, 'query ($id: UUID!) { certificateBatch(id: $id) { outcomes { certificate { biasV } refusal { message } } } }', { id });
    const issued = outcomes.filter(({ certificate }) => certificate).length;
    if (issued < UNITS) throw new Error(`${issued} of ${UNITS} were issued: ${outcomes.find(({ refusal }) => refusal)?.refusal.message}`);
    const told = { units: UNITS, seconds: round(seconds, 1), msAUnit: round((1000 * seconds) / UNITS, 0), questionMsQuiet: round(median(quiet), 1), questionMsMeanwhile: round(median(busy), 1), questionP95MsMeanwhile: round(quantile(busy, 0.95), 1) };
    log(`certificates: ${UNITS} units in ${told.seconds} s (${told.msAUnit} ms a unit); a question meanwhile ${told.questionMsMeanwhile} ms (p95 ${told.questionP95MsMeanwhile}), else ${told.questionMsQuiet} ms`);
    return told;
  });
}

/** Units that differ in their power at zero bias, characterised as people do it. */
async function lotOf(url, cookie) {
  const lotId = uuidv7();
  const observedAt = new Date(Date.now() - 3_600_000).toISOString();
  await record(url, cookie, 'registerDeviceLot', 'RegisterDeviceLotInput', { id: lotId, label: 'Bench lot' });
  const ids = Array.from({ length: UNITS }, () => uuidv7());
  const steps = Array.from({ length: 60 }, (_, i) => [0.25 * (i + 1), 0.25 * (i + 1) < PULL_IN_V ? 2e-12 : 1e-7]);
  for (const [u, id] of ids.entries()) {
    await record(url, cookie, 'registerDeviceUnit', 'RegisterDeviceUnitInput', { id, lotId, label: `Bench ${u + 1}` });
    await record(url, cookie, 'recordBiasSweep', 'RecordBiasSweepInput', { id: uuidv7(), deviceUnitId: id, observedAt, direction: 'UP', polarity: 'POSITIVE', steps });
    for (const [i, biasV] of [4, 6, 8, 9, 10, 11, 12].entries()) {
      const power = (3600 + 4 * u) * (1 - (biasV / PULL_IN_V) ** (2 / 3)) * (i % 2 === 0 ? 0.99 : 1.01);
      await record(url, cookie, 'recordTripTest', 'RecordTripTestInput', { id: uuidv7(), deviceUnitId: id, observedAt, biasV: String(biasV), tripPowerText: power.toFixed(2), tripPowerUnit: 'nW', rawLine: `${biasV} V ${power.toFixed(2)} nW` });
    }
    await record(url, cookie, 'fitBiasThresholdCurve', 'FitBiasThresholdCurveInput', { id: uuidv7(), deviceUnitId: id, exponent: 2 / 3 });
  }
  return ids;
}
