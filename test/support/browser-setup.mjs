import { build } from '../../apps/cli/prepare/build.mjs';
import { requireChromium } from './chromium.mjs';
import startPostgres from './postgres-setup.mjs';

/** As for the tests of the server, with the pages built and a Chromium found; without one the run fails, it leaves nothing out. */
export default async function setup() {
  process.env.CHROMIUM_PATH = requireChromium();
  await build();
  await startPostgres();
}
