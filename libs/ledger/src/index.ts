export * from './canonical-json.js';
export * from './content-hash.js';
