/** `node --conditions=threadleaf-source --import ./test/reference/load-typescript.mjs <file.ts>` runs a TypeScript file. */
import { register } from 'node:module';

register('./typescript-hooks.mjs', import.meta.url);
