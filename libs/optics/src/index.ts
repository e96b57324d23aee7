export * from './transmittance.js';
