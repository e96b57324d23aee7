export * from './model.js';
export * from './mixed-fit.js';
export { fitMixedModel } from './fit.js';
export { estimateVariance, type VarianceCombination, type VarianceEstimate } from './satterthwaite.js';
export { oneSidedToleranceFactor, twoSidedToleranceFactor, type ToleranceQuestion } from './tolerance-factor.js';
export { profileVariances, type ProfiledSd } from './profile-variances.js';
export { fitLeafLine, leafLineModel, responseOf, transmittanceOf, type LeafEffect, type LeafLine, type LeafLineOptions, type LeafReading } from './leaf-line.js';
export {
  intervalsAtRwc,
  invertedLeafInterval,
  leafIntervalAt,
  rwcAtTransmittance,
  type IntervalsAtRwc,
  type InvertedInterval,
  type LeafInterval,
  type LeafIntervalName,
  type LeafIntervalOptions,
  type RwcAtTransmittance,
} from './leaf-line-intervals.js';
export { leaveOneLeafOutOfLine, type LeafLeftOut, type LeaveOneLeafOut } from './leave-one-leaf-out.js';
export { adviseMeasurement, type AdviceRequest, type Effort, type MeasurementAdvice, type Plan } from './measurement-advice.js';
