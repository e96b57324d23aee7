import { readdirSync } from 'node:fs';

const folder = new URL('./numbers/', import.meta.url);

/** The numerical libraries beside reference programs: whatever stands in numbers/ and exports run or bench... */
export async function run({ log }) {
  const results = [];
  for (const file of readdirSync(folder).filter((name) => name.endsWith('.mjs') && !name.endsWith('-worker.mjs')).sort()) {
    const exported = await import(new URL(file, folder));
    for (const name of Object.keys(exported).filter((key) => key === 'run' || key.startsWith('bench'))) {
      for (const result of [await exported[name]()].flat()) {
        results.push(result);
        const beside = result.theirs ? `, ${result.theirs.program} ${result.theirs.medianMs.toFixed(2)} ms, ${result.timesFaster.toFixed(1)} times faster` : '';
        log(`numbers, ${result.name}: ${result.ours.medianMs.toFixed(2)} ms${beside}; ${result.agreement}`);
      }
    }
  }
  return results;
}
