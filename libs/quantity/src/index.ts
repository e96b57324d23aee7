export * from './input-error.js';
export * from './decimal.js';
export * from './unit.js';
export * from './display.js';
export * from './contribution.js';
