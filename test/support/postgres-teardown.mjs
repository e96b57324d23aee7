import { rmSync } from 'node:fs';

export default async function teardown() {
  const postgres = globalThis.threadleafTestPostgres;
  await postgres.stop();
  rmSync(postgres.dataDir, { recursive: true, force: true });
}
