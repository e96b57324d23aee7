export * from './input-error.js';
