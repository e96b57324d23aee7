export * from './line-format.js';
export * from './line-stream.js';
export * from './read-line.js';
export * from './settling.js';
