export * from './canonical-json.js';
export * from './content-hash.js';
export * from './merkle-tree.js';
export * from './merkle-proof.js';
export * from './signed-note.js';
export * from './checkpoint.js';
export * from './entry.js';
export * from './base64.js';
