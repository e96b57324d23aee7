export * from './model.js';
export * from './mixed-fit.js';
export { fitMixedModel } from './fit.js';
export { estimateVariance, type VarianceCombination, type VarianceEstimate } from './satterthwaite.js';
