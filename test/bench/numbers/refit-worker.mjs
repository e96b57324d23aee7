/** One thread's stretch of the Monte Carlo refits of least-squares.mjs. */
import { parentPort, workerData } from 'node:worker_threads';
import { fitFamily, refitDraws } from '#libs/regression';

const { family, points, request } = workerData;
const rows = refitDraws(fitFamily(family, points), points, request);
parentPort.postMessage(rows, [rows.buffer]);
