export { fiellerSet, type AcceptedSet, type LineWithResponse } from './accepted-set.js';
export { G_CAUTION, inversePredict, type InversePrediction, type InverseRequest } from './inverse-predict.js';
