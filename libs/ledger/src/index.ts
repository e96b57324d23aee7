export * from './canonical-json.js';
export * from './content-hash.js';
export * from './merkle-tree.js';
export * from './merkle-proof.js';
