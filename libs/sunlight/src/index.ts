export * from './reference-spectrum.js';
export * from './band.js';
export * from './vapour.js';
export * from './sun.js';
export * from './sky.js';
