import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { build } from './build.mjs';
import { installMissing } from './install.mjs';
import { packageRoot } from './package-root.mjs';
import { portProblem } from './port.mjs';

/**
 * Brings the clone up to date (packages, generated types, compiled server, web pages), then hands over to the compiled
 * program. Costs about a tenth of a second when nothing changed.
 *
 * `THREADLEAF_PREBUILT=1` says that the packages are installed and `dist` is complete, as in the production image, where
 * the build tools are gone: nothing is then installed or built.
 */
export async function run(args) {
  try {
    if (args[0] === 'start') await refuseTakenPort(args);
    if (process.env.THREADLEAF_PREBUILT !== '1') {
      await installMissing();
      await build();
    }
  } catch (failure) {
    console.error(`threadleaf: ${failure.message}`);
    process.exitCode = 1;
    return;
  }
  const { main } = await import(pathToFileURL(join(packageRoot, 'dist/apps/cli/src/main.js')).href);
  await main(args);
}

/** Asked here, before the slow work, because installing and building for a port that is taken wastes minutes. */
async function refuseTakenPort(args) {
  if (args.includes('--help') || args.includes('-h')) return;
  const port = Number(valueOf(args, '--port') ?? process.env.PORT ?? 4180);
  const problem = await portProblem(port, valueOf(args, '--host') ?? '127.0.0.1');
  if (problem) throw new Error(problem);
}

function valueOf(args, option) {
  const at = args.findLastIndex((arg) => arg === option || arg.startsWith(`${option}=`));
  if (at < 0) return undefined;
  return args[at] === option ? args[at + 1] : args[at].slice(option.length + 1);
}
