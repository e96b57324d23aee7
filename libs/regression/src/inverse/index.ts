export { fiellerSet, type AcceptedSet, type LineWithResponse } from './accepted-set.js';
export { G_CAUTION, inversePredict, type InversePrediction, type InverseRequest } from './inverse-predict.js';
export { detectableDrop, type DetectableDrop, type DropRequest } from './detectable-drop.js';
export { inverseDraws, summariseDraws, type DrawRequest, type DrawSummary } from './inverse-draws.js';
