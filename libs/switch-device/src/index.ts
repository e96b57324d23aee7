export * from './bias-threshold.js';
export * from './fit-curve.js';
export * from './transmittance-law.js';
export * from './operating-characteristic.js';
export * from './certificate.js';
export * from './certificate-findings.js';
export * from './certificate-monte-carlo.js';
export * from './certificate-request.js';
