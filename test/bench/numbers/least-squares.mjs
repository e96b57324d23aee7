/**
 * Least squares beside SciPy on the same data in one run: a fit of 200 points by a curve of three parameters, and 100 000
 * Monte Carlo refits of a 60-point calibration on all cores.
 *
 * Run alone: node --conditions=threadleaf-source --import ./test/reference/load-typescript.mjs test/bench/numbers/least-squares.mjs
 * (or without the two options after a build).
 */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { Worker } from 'node:worker_threads';

const FAMILY = 'exponential';
const TRUTH = [0.05, 0.45, -1.6];
const START = [0.1, 0.4, -1];
/** What curve_fit stops at by default. */
const TOLERANCE = 1e-8;
const NOISE = 0.002;
const REFITS = 100_000;
/** Until the compiler has done with the work, which then takes no processor time beside it. */
const WARM_UP_MS = 1500;
const MEMORY_LIMIT_MB = 300;

/**
 * @returns {Promise<Array<{ name: string, ours: { medianMs: number, cpuMs: number, peakMemoryMb?: number }, theirs: { program: string,
 *   medianMs: number, cpuMs: number } | null, timesFaster: number | null, target: number, met: boolean | null, agreement: string }>>}
 *   `theirs` is null, with the reason in `agreement`, where Python or SciPy is not installed.
 */
export async function run({ python = 'python3', refits = REFITS } = {}) {
  const { families, fitFamily, solveNonlinear } = await import('#libs/regression');
  const { createStream } = await import('#libs/numeric');
  const many = simulate(families[FAMILY], createStream(20261125n, 1), 200);
  const few = simulate(families[FAMILY], createStream(20261125n, 2), 60);
  const model = curveAt(many.x);
  const bounds = { lower: families[FAMILY].lower, upper: families[FAMILY].upper };
  const free = () => solveNonlinear(model, many.y, { start: START, tolerance: TOLERANCE });
  const bounded = () => solveNonlinear(model, many.y, { start: START, tolerance: TOLERANCE, ...bounds });
  const whole = pointsOf(many);
  const times = {
    fit: timesOf(free),
    bounded: timesOf(bounded),
    calibration: timesOf(() => fitFamily(FAMILY, whole)),
  };
  const drawn = refitInChild(refits);
  const centre = fitFamily(FAMILY, pointsOf(few));
  const theirs = runScipy(python, {
    ...many,
    start: START,
    refits: { x: few.x, y: centre.points.map((point) => point.fitted), sd: centre.residualSd, start: centre.parameters, count: refits },
  });
  return describe({ times, drawn, theirs, ours: free(), refits });
}

/** The same curve as the Python script's, for all points at once as there. */
function curveAt(x) {
  const n = x.length;
  return {
    parameterCount: 3,
    evaluateAll(parameters, values, derivatives) {
      const floor = parameters[0];
      const amplitude = parameters[1];
      const rate = parameters[2];
      for (let i = 0; i < n; i += 1) {
        const decay = Math.exp(rate * x[i]);
        values[i] = floor + amplitude * decay;
        derivatives[i] = 1;
        derivatives[n + i] = decay;
        derivatives[2 * n + i] = amplitude * x[i] * decay;
      }
    },
    evaluate(parameters, i, gradient) {
      const amplitude = parameters[1];
      const decay = Math.exp(parameters[2] * x[i]);
      if (gradient !== null) {
        gradient[0] = 1;
        gradient[1] = decay;
        gradient[2] = amplitude * x[i] * decay;
      }
      return parameters[0] + amplitude * decay;
    },
  };
}

function describe({ times, drawn, theirs, ours, refits }) {
  const program = theirs.version && `SciPy ${theirs.version} curve_fit`;
  const row = (name, ourTimes, theirTimes, target, agreement, more = {}) => {
    if (theirTimes === undefined) return { name, ours: { ...ourTimes, ...more }, theirs: null, timesFaster: null, target, met: null, agreement: theirs.reason };
    const timesFaster = (theirTimes.leastMs ?? theirTimes.medianMs) / (ourTimes.leastMs ?? ourTimes.medianMs);
    const medians = ourTimes.leastMs === undefined ? '' : `least of all batches, medians ${ourTimes.medianMs.toPrecision(3)} against ${theirTimes.medianMs.toPrecision(3)} ms; `;
    const processor = `processor time ${ourTimes.cpuMs.toPrecision(3)} against ${theirTimes.cpuMs.toPrecision(3)} ms`;
    const memory = more.peakMemoryMb === undefined ? '' : `, at most ${more.peakMemoryMb.toFixed(0)} MB`;
    return {
      name,
      ours: { ...ourTimes, ...more },
      theirs: { program, ...theirTimes },
      timesFaster,
      target,
      met: timesFaster >= target && (more.peakMemoryMb ?? 0) < MEMORY_LIMIT_MB,
      agreement: `${agreement}; ${medians}${processor}${memory}`,
    };
  };
  const apart = theirs.parameters === undefined ? null : greatestDifference([...ours.parameters, ...ours.standardErrors], [...theirs.parameters, ...theirs.standardErrors]);
  const spreadApart = theirs.refitSd === undefined ? null : greatestDifference(drawn.sd, theirs.refitSd);
  // A faster wrong answer is no result: curve_fit stops at 1e-8, and a spread from n refits is known to 1/sqrt(2n).
  if (apart !== null && !(apart < 1e-5)) throw new Error(`parameters differ by ${apart}`);
  if (spreadApart !== null && !(spreadApart < 8 / Math.sqrt(2 * refits))) throw new Error(`spreads of the refits differ by ${spreadApart}`);
  const memory = { peakMemoryMb: drawn.peakMemoryMb };
  const sameSpread = `spreads of the parameters agree to ${spreadApart?.toExponential(1)}`;
  const same = `parameters and standard errors agree to ${apart?.toExponential(1)}`;
  return [
    row('least squares, 200 points, 3 parameters', times.fit, theirs.fit, 5, same),
    row('the same, parameters bounded as the family has them', times.bounded, theirs.boundedFit, 5, same),
    row('the same as a whole calibration: own start, diagnostics, flags, lack of fit', times.calibration, theirs.boundedFit, 1, same),
    // Python's start and its imports are not in its time either.
    row(`${refits} Monte Carlo refits of 60 points, ${drawn.threads} threads`, drawn.times, theirs.refits, 20, sameSpread, memory),
    row('the same with the start of the threads and cold code', drawn.coldTimes, theirs.refits, 10, sameSpread, memory),
  ];
}

function greatestDifference(ours, theirs) {
  return Math.max(...theirs.map((value, i) => Math.abs(ours[i] / value - 1)));
}

function simulate(family, stream, count) {
  const x = Array.from({ length: count }, (_, i) => 0.4 + (0.6 * i) / (count - 1));
  return { x, y: x.map((rwc) => family.predict(TRUTH, rwc) + NOISE * stream.normal()) };
}

function pointsOf({ x, y }) {
  return x.map((rwc, i) => ({ rwc, transmittance: y[i] }));
}

/**
 * Time on the clock, which others on the machine lengthen, and on the processor, which they lengthen less, in ms: the median of
 * the batches, and the least of them, which is what the work itself takes.
 */
function timesOf(work, batches = 60, each = 20) {
  for (const begun = performance.now(); performance.now() - begun < WARM_UP_MS; ) work();
  const times = Array.from({ length: batches }, () => {
    const cpu = process.cpuUsage();
    const begun = performance.now();
    for (let i = 0; i < each; i += 1) work();
    return { medianMs: (performance.now() - begun) / each, cpuMs: cpuMsSince(cpu) / each };
  });
  const sorted = (key) => times.map((time) => time[key]).sort((a, b) => a - b);
  return { medianMs: sorted('medianMs')[batches / 2], leastMs: sorted('medianMs')[0], cpuMs: sorted('cpuMs')[batches / 2] };
}

function cpuMsSince(begun) {
  const { user, system } = process.cpuUsage(begun);
  return (user + system) / 1000;
}

/** In a process of its own, so that its peak memory is that of this work alone. */
function refitInChild(refits) {
  const self = fileURLToPath(import.meta.url);
  const out = execFileSync(process.execPath, [...process.execArgv, self, '--refits', String(refits)], { encoding: 'utf8' });
  return JSON.parse(out);
}

/** Draws that a thread takes at a time: enough not to notice the taking, few enough that none waits long for the last. */
const STRETCH = 2000;

/** Once with cold threads, and once more as a serving process has them: up, and warm. */
async function refitOnAllCores(count) {
  const { families, fitFamily } = await import('#libs/regression');
  const { createStream } = await import('#libs/numeric');
  const points = pointsOf(simulate(families[FAMILY], createStream(20261125n, 2), 60));
  const threads = availableParallelism();
  const task = {
    fit: fitFamily(FAMILY, points), points, seed: 'bench refits', count, stretch: STRETCH,
    next: new Int32Array(new SharedArrayBuffer(4)), rows: new Float64Array(new SharedArrayBuffer(8 * 3 * count)),
  };
  const workers = [];
  const coldTimes = await timed(() => {
    for (let i = 1; i < threads; i += 1) workers.push(new Worker(new URL('./refit-worker.mjs', import.meta.url), { workerData: task }));
    return refitWith(workers, task);
  });
  const cold = task.rows.slice();
  task.next[0] = 0;
  task.rows.fill(NaN);
  const times = await timed(() => refitWith(workers, task));
  await Promise.all(workers.map((worker) => worker.terminate()));
  if (task.rows.some((value, i) => value !== cold[i])) throw new Error('the same seed drew other refits');
  const sd = [0, 1, 2].map((k) => {
    const values = Array.from({ length: count }, (_, i) => task.rows[3 * i + k]);
    const mean = values.reduce((sum, v) => sum + v, 0) / count;
    return Math.sqrt(values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (count - 1));
  });
  return { times, coldTimes, sd, threads, peakMemoryMb: process.resourceUsage().maxRSS / 1024 };
}

async function timed(work) {
  const cpu = process.cpuUsage();
  const begun = performance.now();
  await work();
  return { medianMs: performance.now() - begun, cpuMs: cpuMsSince(cpu) };
}

/** This thread begins at once, and the others take stretches as soon as they are up. */
async function refitWith(workers, task) {
  const { refitStretches } = await import('./refit-worker.mjs');
  const done = workers.map((worker) => new Promise((resolve, reject) => worker.once('error', reject).once('message', resolve)));
  for (const worker of workers) worker.postMessage('refit');
  refitStretches(task);
  await Promise.all(done);
}

function runScipy(python, task) {
  const folder = mkdtempSync(join(tmpdir(), 'bench-least-squares-'));
  try {
    const file = join(folder, 'task.json');
    writeFileSync(file, JSON.stringify(task));
    const script = fileURLToPath(new URL('./least-squares.py', import.meta.url));
    return JSON.parse(execFileSync(python, [script, file], { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] }));
  } catch (error) {
    return { reason: `SciPy was not measured: ${error.code === 'ENOENT' ? `${python} is not installed` : String(error.stderr ?? error).trim()}` };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const at = process.argv.indexOf('--refits');
  if (at > 0) console.log(JSON.stringify(await refitOnAllCores(Number(process.argv[at + 1]))));
  else console.log(await run());
}
