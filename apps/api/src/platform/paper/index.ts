export * from './paper.js';
export * from './parts.js';
export * from './figure.js';
export * from './code.js';
