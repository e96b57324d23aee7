export * from './transmittance.js';
export * from './plate-model.js';
export * from './leaf-coefficients.js';
