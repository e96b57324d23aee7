export * from './sentence.js';
export * from './exceptions.js';
