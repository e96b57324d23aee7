export {
  compareLines,
  type ComparisonRequest,
  type DifferenceAt,
  type EquivalenceVerdict,
  type GroupedReading,
  type LineComparison,
  type PairComparison,
} from './compare-lines.js';
export type { LineTests, NestedTest } from './nested-tests.js';
export { summariseGroups, type GroupEstimate, type GroupsSummary, type SummaryOptions, type TauMethod } from './random-effects-summary.js';
