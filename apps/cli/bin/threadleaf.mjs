#!/usr/bin/env node
/**
 * The one program of Threadleaf: `npm start` is `threadleaf start`.
 *
 * Plain JavaScript without a static import, so that a fresh clone (nothing installed, nothing built) and a Node too old
 * for the rest of the program both get this far and can be told what is missing.
 */
const needed = [20, 19];
const found = process.versions.node.split('.').map(Number);

if (found[0] < needed[0] || (found[0] === needed[0] && found[1] < needed[1])) {
  console.error(`threadleaf: Node ${needed.join('.')} or newer is needed, this is ${process.versions.node}. Install a current Node LTS and try again.`);
  process.exitCode = 1;
} else {
  import('../prepare/run.mjs').then(({ run }) => run(process.argv.slice(2)));
}
