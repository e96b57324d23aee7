export * from './transmittance.js';
export * from './spectrum.js';
export * from './band.js';
export * from './spectrum-table.js';
export * from './plate-model.js';
export * from './leaf-coefficients.js';
export * from './jcamp/index.js';
