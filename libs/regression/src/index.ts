export * from './least-squares/index.js';
export * from './families/index.js';
export * from './inverse/index.js';
export * from './errors-in-variables/index.js';
export * from './mixed/index.js';
export * from './pooling/index.js';
export * from './transfer/index.js';
