export * from './balance.js';
export * from './rwc.js';
export * from './rwc-series.js';
export * from './water.js';
export * from './constant-mass.js';
export * from './drying-curve.js';
export * from './plausibility.js';
