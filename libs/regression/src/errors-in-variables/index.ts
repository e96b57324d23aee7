export { fitErrorsInVariables, type EivFit, type EivOptions } from './fit-errors-in-variables.js';
export type { UncertainPairs } from './joint-covariance.js';
export { familyModel, offsetPowerModel, polynomialModel, type EivModel } from './model.js';
export { invertAt, predictFrom, type PredictedValues, type UncertainValue } from './predict.js';
export { fitFamilyWithErrorsInBoth, type FamilyEivFit, type FamilyEivOptions } from './fit-family-with-errors.js';
export { sharedMassCovariance, type WeighedPoint } from './shared-mass-covariance.js';
