export { families, fitFamily, type ExcludedPoint, type FamilyFit, type FamilyFitOptions, type FittedCurve, type FittedPoint } from './fit-family.js';
export { directionOver, type Direction, type ErrorScale, type Family, type FamilyName, type Range } from './family.js';
export type { FitWarning, PointFlag } from './flags.js';
export type { LackOfFit } from './lack-of-fit.js';
export type { CalibrationPoint, Predictor, Response } from './points.js';
export { compareFamilies, type Candidate, type Comparison } from './compare-families.js';
export { fitWithAndWithoutExcluded, type WithAndWithout } from './exclusions.js';
export { leaveOneGroupOut, type LeaveOneGroupOut } from './leave-one-group-out.js';
export { residualsBy, residualsInOrder, type GroupedResiduals, type ResidualGroup, type ResidualsInOrder } from './residual-groups.js';
