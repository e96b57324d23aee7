/** One thread's part of the Monte Carlo refits of least-squares.mjs. */
import { parentPort, workerData } from 'node:worker_threads';
import { refitDraws } from '#libs/regression';

/** Takes the next stretch that no thread has taken until none is left; draws are functions of their number alone. */
export function refitStretches({ fit, points, seed, count, stretch, next, rows }) {
  const p = fit.parameters.length;
  for (let from = take(); from < count; from = take()) {
    rows.set(refitDraws(fit, points, { seed, from, count: Math.min(stretch, count - from) }), from * p);
  }
  function take() {
    return stretch * Atomics.add(next, 0, 1);
  }
}

if (workerData !== null) {
  parentPort.on('message', () => {
    refitStretches(workerData);
    parentPort.postMessage('done');
  });
}
