import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { build } from '../../apps/cli/prepare/build.mjs';
import { packageRoot } from '../../apps/cli/prepare/package-root.mjs';
import teardown from './postgres-teardown.mjs';

const PREFIX = 'threadleaf-test-';

/** Named here and in database.ts: each test file's database begins as a copy of it. */
const TEMPLATE = 'threadleaf_template';

/**
 * One real PostgreSQL for a whole Jest run, in a folder of its own, with the roles of production and one migrated database
 * to copy. The workers learn of it by THREADLEAF_TEST_DATABASE. Runs outside Jest's transform, hence from dist.
 */
export default async function setup() {
  // Jest calls the set-up of each project it runs; one server is enough for all.
  if (globalThis.threadleafTestPostgres) return;
  await build({ web: false });
  const { startEmbeddedPostgres } = await import('../../dist/apps/cli/src/database/embedded.js');
  await clearAbandoned();
  const postgres = await startEmbeddedPostgres({
    dataDir: mkdtempSync(join(tmpdir(), PREFIX)),
    log: (line) => /^Making/.test(line) || console.error(line),
    // Nothing here outlives the run; what fsync guards is tested in test/fault, with the settings of production.
    settings: { fsync: 'off', synchronous_commit: 'off', full_page_writes: 'off', max_connections: 200 },
  });
  globalThis.threadleafTestPostgres = postgres;
  for (const signal of ['SIGINT', 'SIGTERM']) process.once(signal, () => teardown().finally(() => process.exit(1)));
  await makeTemplate(postgres);
  process.env.THREADLEAF_TEST_DATABASE = JSON.stringify({ ownerUrl: postgres.ownerUrl, appUrl: postgres.appUrl });
}

async function makeTemplate({ ownerUrl }) {
  const { withClient } = await import('../../dist/apps/cli/src/database/roles.js');
  await withClient(ownerUrl, (client) => client.query(`CREATE DATABASE ${TEMPLATE}`));
  const api = join(packageRoot, 'dist/apps/api/src/main.js');
  if (!existsSync(api)) return;
  const { migrate } = await import(api);
  const url = new URL(ownerUrl);
  url.pathname = `/${TEMPLATE}`;
  await migrate(url.href);
}

/** A Jest that was killed leaves its server running and its folder behind. */
async function clearAbandoned() {
  const { holderOfFolder, clusterOf } = await import('../../dist/apps/cli/src/database/data-folder.js');
  const { stopOrphan } = await import('../../dist/apps/cli/src/database/postmaster.js');
  for (const name of readdirSync(tmpdir()).filter((entry) => entry.startsWith(PREFIX))) {
    const folder = join(tmpdir(), name);
    try {
      if (!existsSync(join(folder, 'in-use.json')) || holderOfFolder(folder)) continue;
      await stopOrphan(clusterOf(folder));
      rmSync(folder, { recursive: true, force: true });
    } catch (error) {
      if (error.code !== 'EACCES' && error.code !== 'EPERM') throw error; // another user's run: theirs to clear
    }
  }
}
