export * from './events.js';
export * from './rule.js';
export * from './recommend.js';
export * from './replay.js';
export * from './risk.js';
