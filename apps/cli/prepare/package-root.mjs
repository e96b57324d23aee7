import { fileURLToPath } from 'node:url';

/** The folder that holds package.json, without a slash at the end. */
export const packageRoot = fileURLToPath(new URL('../../..', import.meta.url)).replace(/[/\\]$/, '');
