export { fitLinear, fitPolynomial, type LinearOptions, type WeightOptions } from './linear.js';
export { fitNonlinear, solveNonlinear, type NonlinearOptions, type ResponseModel } from './nonlinear.js';
export { Dual, modelFromFormula } from './dual.js';
export type { LeastSquaresConvergence, LeastSquaresReason, CovarianceBasis, LeastSquaresFit, ParameterFit } from './fit-result.js';
