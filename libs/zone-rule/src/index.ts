export * from './events.js';
export * from './rule.js';
export { recommend, requireRain, type Advice, type Recommendation, type SolarNoon, type UnitStanding } from './recommend.js';
export * from './replay.js';
export * from './risk.js';
