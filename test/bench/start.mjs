import { median, round } from './statistics.mjs';
import { makeDataFolder, startProgram } from './server.mjs';

const REPEATS = 3;
const TARGET_MS = 5_000;

/** From the command to 'ready': a first start (database made and migrated, no demo), and starts after it. */
export async function run({ log }) {
  const firstMs = [];
  const secondMs = [];
  for (let repeat = 0; repeat < REPEATS; repeat += 1) {
    const folder = makeDataFolder();
    try {
      for (const times of [firstMs, secondMs]) {
        const server = await startProgram(folder.path, { demo: false });
        times.push(server.readyMs);
        await server.stop();
      }
    } finally {
      folder.remove();
    }
  }
  const result = { firstMs: round(median(firstMs), 0), secondMs: round(median(secondMs), 0), targetMs: TARGET_MS, met: median(secondMs) < TARGET_MS };
  log(`start: first ${result.firstMs} ms, second ${result.secondMs} ms (target ${TARGET_MS} ms)`);
  return result;
}
